package likelihood

// Component is the design of some classes by some columns, those that their slots
// use; the other classes have no slots left.
func (d *Design) Component(columns []int, in func(class int) bool) *Design {
	at := make(map[int]int, len(columns))
	for i, j := range columns {
		at[j] = i
	}
	c := *d
	c.Columns, c.rising = len(columns), nil
	c.Slots = make([][][]Entry, len(d.Slots))
	for g := range d.Slots {
		c.Slots[g] = make([][]Entry, len(d.Slots[g]))
		for a, es := range d.Slots[g] {
			for _, e := range es {
				if in(g) {
					e.Column = at[e.Column]
					c.Slots[g][a] = append(c.Slots[g][a], e)
				}
			}
		}
	}
	return &c
}

// Of is the data of some classes.
func (d *Data) Of(in func(class int) bool) *Data {
	out := &Data{}
	for _, u := range d.Units {
		if in(u.Class) {
			out.Units = append(out.Units, u)
		}
	}
	for _, g := range d.HistoryGroups {
		if in(g.Class) {
			out.HistoryGroups = append(out.HistoryGroups, g)
		}
	}
	for _, t := range d.TravelTimes {
		if in(t.Class) {
			out.TravelTimes = append(out.TravelTimes, t)
		}
	}
	for _, w := range d.Waits {
		if in(w.Class) {
			out.Waits = append(out.Waits, w)
		}
	}
	return out
}
