package cjs

import "example.org/unseen/likelihood"

// concerns tells whether the likelihood of the data has to do with slot a of
// class g at all.
func (s *search) concerns(g, a int) bool {
	if s.concerned == nil {
		s.look()
	}
	return s.concerned[g][a]
}

// look finds which slots the data concern.
func (s *search) look() {
	l := s.problem.Layout
	s.concerned = make([][]bool, len(s.design.Slots))
	for g := range s.concerned {
		s.concerned[g] = make([]bool, l.Slots())
	}
	for i := range s.data.Units {
		u := &s.data.Units[i]
		for a := range l.Slots() {
			if unitConcerns(l, u, a) {
				s.concerned[u.Class][a] = true
			}
		}
	}
	for i := range s.data.Strands {
		t := &s.data.Strands[i]
		for a := range l.Slots() {
			if strandConcerns(l, t, a) {
				s.concerned[t.Class][a] = true
			}
		}
	}
	for i := range s.data.Waits {
		w := &s.data.Waits[i]
		for a := range l.Slots() {
			if waitConcerns(l, w.Site, a) {
				s.concerned[w.Class][a] = true
			}
		}
	}
	for i := range s.data.Trips {
		t := &s.data.Trips[i]
		s.concerned[t.Class][l.Drift()], s.concerned[t.Class][l.Spread()] = true, true
		if t.Fresh && l.Resting {
			s.concerned[t.Class][l.Rest()], s.concerned[t.Class][l.RestKm()] = true, true
		}
	}
}

func unitConcerns(l *likelihood.Layout, u *likelihood.Unit, a int) bool {
	above := func(k int) bool { // released or seen above the end of reach k, and not again
		for _, n := range u.Never[:min(len(u.Never), k+1)] {
			if n > 0 {
				return true
			}
		}
		return false
	}
	if k := l.Reach(a); k >= 0 {
		return k < len(u.Alive) && u.Alive[k] > 0 || above(k)
	}
	if b := l.Row(a); b >= 0 {
		return b < len(u.Seen) && u.Seen[b] > 0 || b < len(u.Missed) && u.Missed[b] > 0 || above(l.Site(a))
	}
	return false
}

func strandConcerns(l *likelihood.Layout, t *likelihood.Strand, a int) bool {
	if k := l.Reach(a); k >= 0 {
		return k >= t.Entry && (k < t.Last || t.Open)
	}
	if l.Row(a) >= 0 {
		k := l.Site(a) + 1
		return k > t.Entry && (k <= t.Last && !t.RowsCounted || k > t.Last && t.Open)
	}
	return false
}

func waitConcerns(l *likelihood.Layout, site, a int) bool {
	if k := l.Reach(a); k >= 0 {
		return k >= site
	}
	if l.Row(a) >= 0 {
		return l.Site(a) >= site
	}
	return true // movement
}

// eachFish calls do with the numbers of every fish of class g of which the
// likelihood has to do with slot a. z is overwritten by the next call.
func (s *search) eachFish(g, a int, do func(z []float64)) {
	l := s.problem.Layout
	for i := range s.data.Units {
		if u := &s.data.Units[i]; u.Class == g && unitConcerns(l, u, a) {
			do(u.Z)
		}
	}
	z := constant(s.design.Numbers)
	for i := range s.data.Strands {
		t := &s.data.Strands[i]
		if t.Class != g || !strandConcerns(l, t, a) {
			continue
		}
		for f := range t.N {
			for n := range t.Z {
				z[n+1] = t.Z[n][f]
			}
			do(z)
		}
	}
	for i := range s.data.Waits {
		if w := &s.data.Waits[i]; w.Class == g && waitConcerns(l, w.Site, a) {
			do(w.Z)
		}
	}
	for i := range s.data.Trips {
		if t := &s.data.Trips[i]; t.Class == g && l.Reach(a) < 0 && l.Row(a) < 0 {
			do(t.Z)
		}
	}
}
