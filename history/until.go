package history

// Until is what was known at time t (Unix milliseconds): the sightings before t,
// and fish taken out later still at large. Fish released later are kept; models
// leave them out. It returns h itself when nothing came later, and nil when the
// histories have no times, or [Histories.Check] refuses them.
func (h *Histories) Until(t int64) *Histories {
	if h == nil || h.First == nil || h.Last == nil || h.Check() != nil {
		return nil
	}
	rows := h.River.Rows()
	masks := h.River.SiteMasks()
	later := false
	for _, f := range h.Last {
		later = later || f >= t
	}
	if !later {
		return h
	}
	out := *h
	out.Seen = append([]uint64(nil), h.Seen...)
	out.End = append([]End(nil), h.End...)
	out.First = append([]int64(nil), h.First...)
	out.Last = append([]int64(nil), h.Last...)
	for i := range out.Seen {
		for b := range rows {
			at := i*rows + b
			if out.First[at] == NoTime {
				continue
			}
			if out.First[at] >= t {
				out.First[at], out.Last[at] = NoTime, NoTime
				out.Seen[i] &^= 1 << uint(b)
			} else {
				out.Last[at] = min(out.Last[at], t-1)
			}
		}
		if out.End[i] == Removed && out.LastSite(i, masks) != h.LastSite(i, masks) {
			out.End[i] = Open
		}
	}
	return &out
}

// Pick is the records of the given indices, in that order, without any that is
// not there. The cohorts and the levels of the columns stay as they are.
func (h *Histories) Pick(records []int) *Histories {
	out := *h
	rows := h.River.Rows()
	out.Tag = pick(h.Tag, records, 1)
	out.Entry = pick(h.Entry, records, 1)
	out.Seen = pick(h.Seen, records, 1)
	out.End = pick(h.End, records, 1)
	out.Again = pick(h.Again, records, 1)
	out.Count = pick(h.Count, records, 1)
	out.Cohort = pick(h.Cohort, records, 1)
	out.Released = pick(h.Released, records, 1)
	out.First = pick(h.First, records, rows)
	out.Last = pick(h.Last, records, rows)
	out.Columns = make([]Column, len(h.Columns))
	for i, c := range h.Columns {
		out.Columns[i] = Column{Name: c.Name, Levels: c.Levels, Level: pick(c.Level, records, 1), Value: pick(c.Value, records, 1)}
	}
	return &out
}

// pick takes width values of v for each record; nil stays nil.
func pick[T any](v []T, records []int, width int) []T {
	if v == nil {
		return nil
	}
	out := make([]T, 0, len(records)*width)
	for _, i := range records {
		if i >= 0 && i < len(v)/max(1, width) {
			out = append(out, v[i*width:(i+1)*width]...)
		}
	}
	return out
}
