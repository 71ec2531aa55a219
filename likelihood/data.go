package likelihood

import "slices"

// Data is everything observed that the likelihood needs, as sufficient counts
// where fish share their numbers and as history groups where they do not.
type Data struct {
	Units         []Unit         // fish with the same numbers, as counts
	HistoryGroups []HistoryGroup // fish that differ in their numbers, by detection history
	// TravelTimes and Waits are the times of passage, where they are part of the
	// likelihood; then nothing is counted as never seen again in Units and
	// HistoryGroups.
	TravelTimes []TravelTime
	Waits       []Wait
}

// Unit is the fish of one class with the same numbers, reduced to the counts
// that carry all they say. Nil counts are zero.
type Unit struct {
	Class int       // index of the fish's class
	Z     []float64 // Design.Numbers values, Z[0] = 1
	// Alive[k]: fish known to have survived reach k. Sites−1 values.
	Alive []float64
	// Seen[b], Missed[b]: fish known to have passed numbered row b and
	// detected there or not. RowCount values; test passes add to them.
	Seen, Missed []float64
	// Never[k]: fish last seen (or released) at site k and then at large,
	// never seen again. Sites values; those at the last site say nothing.
	Never []float64
}

// HistoryGroup is fish of one class with the same history that differ in their
// numbers only.
type HistoryGroup struct {
	Class int // index of the fish's class
	// Entry and Last are the sites where the fish entered and were last seen.
	Entry, Last int
	// Open: at large after Last, not removed there.
	Open bool
	// Seen are the numbered rows where the fish were detected.
	Seen uint64
	// Idle are the rows of which nothing is said: not at work when the fish
	// passed, or (see [TravelTime.At]) it is not known whether they were.
	Idle uint64
	// RowsCounted: the rows up to Last are counted in a Unit already.
	RowsCounted bool
	// Z[n−1] are number n of all fish. Numbers−1 columns of one length.
	Z [][]float64
	// Weight is the number of fish alike; nil: one each.
	Weight []float64
	// N is the number of entries.
	N int
}

// NewUnit is a unit with zero counts.
func NewUnit(l *Layout, class int, z []float64) Unit {
	if l == nil || l.sites == 0 {
		return Unit{Class: class, Z: z}
	}
	n := l.Sites()
	return Unit{Class: class, Z: z, Alive: make([]float64, n-1), Never: make([]float64, n),
		Seen: make([]float64, l.RowCount()), Missed: make([]float64, l.RowCount())}
}

// passes tells whether u has counts of l, and l such a way.
func (u *Unit) passes(l *Layout, entry, last int) bool {
	return l != nil && entry >= 0 && entry <= last && last < l.sites && len(u.Never) == l.sites && len(u.Alive) == l.sites-1 &&
		len(u.Seen) == l.RowCount() && len(u.Missed) == l.RowCount()
}

// Add counts w fish that entered at site entry, were detected at the rows seen,
// last at site last, and were at large afterwards if open. With rows false the
// rows are left out. A way that l does not have, or a unit of another layout,
// counts nothing.
func (u *Unit) Add(l *Layout, entry, last int, seen uint64, open, rows bool, w float64) {
	if !u.passes(l, entry, last) {
		return
	}
	for k := entry; k < last; k++ {
		u.Alive[k] += w
	}
	if rows {
		u.AddRows(l, entry, last, seen, 0, w)
	}
	if open {
		u.Never[last] += w
	}
}

// AddRows counts w fish detected at the rows seen on their way from entry to last,
// and missed at the others but those of idle.
func (u *Unit) AddRows(l *Layout, entry, last int, seen, idle uint64, w float64) {
	if !u.passes(l, entry, last) {
		return
	}
	for b := l.firstRow[entry+1]; b < l.firstRow[last+1]; b++ {
		switch {
		case seen>>uint(b)&1 == 1:
			u.Seen[b] += w
		case idle>>uint(b)&1 == 0:
			u.Missed[b] += w
		}
	}
}

// Thin is the data with about most of the fish that are kept one by one, taken
// evenly and weighted up, for a first look; nil when there are no more than
// twice that many.
func (d *Data) Thin(most int) *Data {
	total := 0
	for i := range d.HistoryGroups {
		s := &d.HistoryGroups[i]
		if s.N < 0 || s.Weight != nil && len(s.Weight) != s.N || slices.ContainsFunc(s.Z, func(z []float64) bool { return len(z) != s.N }) {
			return nil // no data that Check lets pass
		}
		total += s.N
	}
	every := total / max(1, most)
	if every < 2 {
		return nil
	}
	out := &Data{Units: d.Units, TravelTimes: d.TravelTimes, Waits: d.Waits}
	at := 0
	for i := range d.HistoryGroups {
		s := d.HistoryGroups[i]
		from := (every - at%every) % every
		at += s.N
		var z [][]float64
		var w []float64
		for f := from; f < s.N; f += every {
			v := float64(every)
			if s.Weight != nil {
				v *= s.Weight[f]
			}
			w = append(w, v)
		}
		if len(w) == 0 {
			continue
		}
		for _, col := range s.Z {
			c := make([]float64, 0, len(w))
			for f := from; f < s.N; f += every {
				c = append(c, col[f])
			}
			z = append(z, c)
		}
		s.Z, s.Weight, s.N = z, w, len(w)
		out.HistoryGroups = append(out.HistoryGroups, s)
	}
	return out
}

// Of is the data of some classes.
func (d *Data) Of(in func(class int) bool) *Data {
	if d == nil || in == nil {
		return &Data{}
	}
	return &Data{
		Units:         those(d.Units, func(u *Unit) bool { return in(u.Class) }),
		HistoryGroups: those(d.HistoryGroups, func(g *HistoryGroup) bool { return in(g.Class) }),
		TravelTimes:   those(d.TravelTimes, func(t *TravelTime) bool { return in(t.Class) }),
		Waits:         those(d.Waits, func(w *Wait) bool { return in(w.Class) }),
	}
}

// those are what of a list is in.
func those[T any](list []T, in func(*T) bool) (out []T) {
	for i := range list {
		if in(&list[i]) {
			out = append(out, list[i])
		}
	}
	return out
}
