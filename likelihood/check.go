package likelihood

import (
	"fmt"
	"math"
)

// Check returns an error when the design breaks what its evaluation relies on:
// slots and links for every class, entries of columns and numbers that are
// there, links that give a value.
func (d *Design) Check() error {
	if err := d.shaped(); err != nil {
		return err
	}
	for g := range d.Slots {
		for a := range d.Slots[g] {
			if err := d.checkSlot(g, a); err != nil {
				return fmt.Errorf("class %d, slot %d: %w", g, a, err)
			}
		}
	}
	return nil
}

func (d *Design) checkSlot(g, a int) error {
	for _, e := range d.Slots[g][a] {
		if !finite(e.Value) {
			return fmt.Errorf("%v times number %d in column %d; a value is finite", e.Value, e.Number, e.Column)
		}
	}
	switch l := d.Links[g][a]; {
	case l.Kind > Log:
		return fmt.Errorf("there is no link %d", l.Kind)
	case (l.Kind == Rate || l.Kind == CLogLog) && !(l.Length > 0 && finite(l.Length)):
		return fmt.Errorf("a rate over a length of %v; a length is above 0", l.Length)
	case l.Kind == Fixed && a >= d.Layout.river && !(l.Value >= 0 && finite(l.Value)):
		return fmt.Errorf("drift, spread or rest held at %v; they are above 0", l.Value)
	case l.Kind == Fixed && a < d.Layout.river && !(l.Value >= 0 && l.Value <= 1):
		return fmt.Errorf("a probability held at %v; it lies between 0 and 1", l.Value)
	}
	return nil
}

// counts tells whether every value is a number of fish, not below none.
func counts(v []float64) bool {
	for _, x := range v {
		if !(x >= 0) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// CheckColumns returns an error when x has not one finite coefficient for each
// column of the design.
func (d *Design) CheckColumns(x []float64) error {
	if len(x) != d.Columns {
		return fmt.Errorf("%d coefficients for %d columns of the design; it needs one each", len(x), d.Columns)
	}
	for i, v := range x {
		if !finite(v) {
			return fmt.Errorf("coefficient %d is %v; it must be a finite number", i, v)
		}
	}
	return nil
}

// Check returns an error when the data do not fit the design g, itself sound,
// or hold what no fish can be counted or measured as.
func (d *Data) Check(g *Design) error {
	if err := d.fits(g); err != nil {
		return err
	}
	for i := range d.Units {
		u := &d.Units[i]
		if err := checkNumbers(u.Z); err != nil {
			return fmt.Errorf("unit %d: %w", i, err)
		}
		for _, c := range [][]float64{u.Alive, u.Seen, u.Missed, u.Never} {
			if !counts(c) {
				return fmt.Errorf("unit %d: the counts %v; each is a number of fish, not below 0", i, c)
			}
		}
	}
	for i := range d.HistoryGroups {
		s := &d.HistoryGroups[i]
		if !counts(s.Weight) {
			return fmt.Errorf("strand %d: a weight of its fish is below 0 or no number", i)
		}
		for _, z := range s.Z {
			if !allFinite(z) {
				return fmt.Errorf("strand %d: a number of its fish is not finite", i)
			}
		}
	}
	for i := range d.TravelTimes {
		t := &d.TravelTimes[i]
		if err := checkNumbers(t.Z); err != nil {
			return fmt.Errorf("trip %d: %w", i, err)
		}
		if !(t.Days > 0 && finite(t.Days) && finite(t.At)) || !counts([]float64{t.Weight}) || !(t.Within >= 0) || math.IsInf(t.Within, 1) && !g.Layout.Windowed() {
			return fmt.Errorf("trip %d: %v fish in %v days within %v; time is above 0, and no number below it", i, t.Weight, t.Days, t.Within)
		}
		if km := g.Layout.Distance(t.From, t.To); !(km > 0 && finite(km)) {
			return fmt.Errorf("trip %d: %v km from site %d to site %d; the way is above 0", i, km, t.From, t.To)
		}
	}
	for i := range d.Waits {
		w := &d.Waits[i]
		if err := checkNumbers(w.Z); err != nil {
			return fmt.Errorf("wait %d: %w", i, err)
		}
		if days := w.Days; !counts([]float64{w.Weight}) || !(days >= 0) || math.IsInf(days, 1) && !g.Layout.Windowed() || !finite(w.At) {
			return fmt.Errorf("wait %d: %v fish for %v days; neither is below 0", i, w.Weight, w.Days)
		}
	}
	return nil
}

// carries tells whether the design can be evaluated at x for such fish.
func (d *Design) carries(x []float64, fish []Wait) bool {
	return d.evaluates(x) && (&Data{Waits: fish}).fits(d) == nil && d.Layout.Km != nil
}

// checkNumbers: the constant 1, and what is finite.
func checkNumbers(z []float64) error {
	if len(z) == 0 || z[0] != 1 || !allFinite(z) {
		return fmt.Errorf("the numbers %v; the first is the constant 1, and all are finite", z)
	}
	return nil
}

func allFinite(v []float64) bool {
	for _, x := range v {
		if !finite(x) {
			return false
		}
	}
	return true
}

// fits returns an error when the data cannot be evaluated under the design g.
// Counts that are only expected may be what no fish can be counted as: under a
// linear link a probability can be below 0.
func (d *Data) fits(g *Design) error {
	if d == nil {
		return fmt.Errorf("there are no data")
	}
	if g == nil || g.Layout == nil {
		return fmt.Errorf("the design has no layout; make one with NewLayout")
	}
	for i := range d.Units {
		if err := d.Units[i].fits(g); err != nil {
			return fmt.Errorf("unit %d: %w", i, err)
		}
	}
	for i := range d.HistoryGroups {
		if err := d.HistoryGroups[i].fits(g); err != nil {
			return fmt.Errorf("strand %d: %w", i, err)
		}
	}
	if g.Layout.Km == nil && len(d.TravelTimes)+len(d.Waits) > 0 {
		return fmt.Errorf("there are times of passage, but the layout has no places; see Timed")
	}
	for i := range d.TravelTimes {
		t := &d.TravelTimes[i]
		if err := g.has(t.Class, t.Z); err != nil {
			return fmt.Errorf("trip %d: %w", i, err)
		}
		if t.From < 0 || t.From >= t.To || t.To >= g.Layout.sites {
			return fmt.Errorf("trip %d: from site %d to site %d; there are 0 to %d, and none swims up", i, t.From, t.To, g.Layout.sites-1)
		}
	}
	for i := range d.Waits {
		w := &d.Waits[i]
		if err := g.has(w.Class, w.Z); err != nil {
			return fmt.Errorf("wait %d: %w", i, err)
		}
		if w.Site < 0 || w.Site >= g.Layout.sites {
			return fmt.Errorf("wait %d: at site %d; there are 0 to %d", i, w.Site, g.Layout.sites-1)
		}
	}
	return nil
}

func (u *Unit) fits(g *Design) error {
	if err := g.has(u.Class, u.Z); err != nil {
		return err
	}
	l := g.Layout
	for _, c := range []struct {
		name string
		have []float64
		want int
	}{{"Alive", u.Alive, l.sites - 1}, {"Seen", u.Seen, l.RowCount()}, {"Missed", u.Missed, l.RowCount()}, {"Never", u.Never, l.sites}} {
		if c.have != nil && len(c.have) != c.want {
			return fmt.Errorf("%s has %d counts; the layout asks for %d", c.name, len(c.have), c.want)
		}
	}
	return nil
}

func (s *HistoryGroup) fits(g *Design) error {
	if s.Class < 0 || s.Class >= g.Classes() {
		return fmt.Errorf("class %d; the design has %d", s.Class, g.Classes())
	}
	if s.Entry < 0 || s.Entry > s.Last || s.Last >= g.Layout.sites {
		return fmt.Errorf("fish that enter at site %d and are last seen at %d; there are the sites 0 to %d, and none swims up", s.Entry, s.Last, g.Layout.sites-1)
	}
	if len(s.Z) != g.Numbers-1 {
		return fmt.Errorf("%d numbers of the fish; the design has %d beside the constant", len(s.Z), g.Numbers-1)
	}
	if s.N < 0 {
		return fmt.Errorf("%d fish", s.N)
	}
	for _, z := range s.Z {
		if len(z) != s.N {
			return fmt.Errorf("a number of %d fish; there are %d", len(z), s.N)
		}
	}
	if s.Weight != nil && len(s.Weight) != s.N {
		return fmt.Errorf("%d weights of %d fish; each fish has one", len(s.Weight), s.N)
	}
	return nil
}
