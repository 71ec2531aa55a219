package maximum

import "example.org/unseen/likelihood"

// concerns tells whether the likelihood of the data has to do with slot a of
// class g at all.
func (s *Search) concerns(g, a int) bool {
	if s.concerned == nil {
		s.look()
	}
	return s.concerned[g][a]
}

// look finds which slots the data concern.
func (s *Search) look() {
	l := s.problem.Layout
	s.concerned = make([][]bool, len(s.Design.Slots))
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
	for i := range s.data.HistoryGroups {
		t := &s.data.HistoryGroups[i]
		for a := range l.Slots() {
			if historyGroupConcerns(l, t, a) {
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
	for i := range s.data.TravelTimes {
		t := &s.data.TravelTimes[i]
		for a := range l.Slots() {
			if travelTimeConcerns(l, t, a) {
				s.concerned[t.Class][a] = true
			}
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

func historyGroupConcerns(l *likelihood.Layout, t *likelihood.HistoryGroup, a int) bool {
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
	law, _, _ := l.Moves(a)
	return law < 0 || site < l.Sites()-1 && law >= l.LawOf(site)
}

func travelTimeConcerns(l *likelihood.Layout, t *likelihood.TravelTime, a int) bool {
	switch law, _, _ := l.Moves(a); {
	case law >= 0:
		return law >= l.LawOf(t.From) && law <= l.LawOf(t.To-1)
	case l.Row(a) >= 0:
		return l.Unknown(t.From, t.To)>>uint(l.Row(a))&1 == 1
	case l.Reach(a) >= 0:
		return false
	}
	return t.Fresh // rest
}

// hardlyThere: a fish that with a smaller probability than this ever came to a
// reach says nothing on it.
const hardlyThere = 1e-7

// eachFish calls do with the numbers of every fish of class g of which the
// likelihood at x has to do with slot a, until do wants no more. z is overwritten
// by the next call.
func (s *Search) eachFish(x []float64, g, a int, do func(z []float64) (more bool)) {
	l := s.problem.Layout
	for _, u := range s.unitsOf(g) {
		if s.unitThere(x, u, a) && !do(u.Z) {
			return
		}
	}
	z := Constant(s.Design.Numbers)
	for i := range s.data.HistoryGroups {
		t := &s.data.HistoryGroups[i]
		if t.Class != g || !historyGroupConcerns(l, t, a) {
			continue
		}
		known := l.Site(a) < t.Last
		for f := range t.N {
			for n := range t.Z {
				z[n+1] = t.Z[n][f]
			}
			if (known || s.there(x, g, z, t.Last, a) > hardlyThere) && !do(z) {
				return
			}
		}
	}
	for i := range s.data.Waits {
		if w := &s.data.Waits[i]; w.Class == g && waitConcerns(l, w.Site, a) && !do(w.Z) {
			return
		}
	}
	for i := range s.data.TravelTimes {
		if t := &s.data.TravelTimes[i]; t.Class == g && travelTimeConcerns(l, t, a) && !do(t.Z) {
			return
		}
	}
}

// unitsOf are the units of class g.
func (s *Search) unitsOf(g int) []*likelihood.Unit {
	if s.units == nil {
		s.units = make([][]*likelihood.Unit, len(s.Design.Slots))
		for i := range s.data.Units {
			u := &s.data.Units[i]
			s.units[u.Class] = append(s.units[u.Class], u)
		}
	}
	return s.units[g]
}

// anyFish tells whether there is one: among a million the first mostly is.
func (s *Search) anyFish(x []float64, g, a int) bool {
	found := false
	s.eachFish(x, g, a, func([]float64) bool {
		found = true
		return false
	})
	return found
}

// unitThere tells whether fish of u came to slot a, or may have.
func (s *Search) unitThere(x []float64, u *likelihood.Unit, a int) bool {
	l := s.problem.Layout
	known := *u
	known.Never = nil
	if unitConcerns(l, &known, a) {
		return true
	}
	for k, n := range u.Never {
		if n > 0 && k <= l.Site(a) && s.there(x, u.Class, u.Z, k, a) > hardlyThere {
			return true
		}
	}
	return false
}

// there is the probability at x that a fish of class g with numbers z, last seen
// at site from and never again, came to slot a: that it survived as far and was
// missed on the way.
func (s *Search) there(x []float64, g int, z []float64, from, a int) float64 {
	d, l := s.Design, s.problem.Layout
	to := l.Site(a) // where the reach of a starts, or the one that ends at its row
	miss := func(k int) float64 {
		q := 1.0
		first, past := l.SiteRows(k)
		for b := first; b < past; b++ {
			q *= d.Prob(x, g, l.Detection(b), z).Q
		}
		return q
	}
	chi := 1.0 // never seen again after site k
	var at float64
	for k := l.Sites() - 2; k >= from; k-- {
		if k == to-1 {
			at = chi // after site to, where χ is what was reckoned so far
		}
		p := d.Prob(x, g, l.Survival(k), z)
		chi = p.Q + p.P*miss(k+1)*chi
	}
	if to == from || to >= l.Sites()-1 {
		at = chi
	}
	way := 1.0
	for k := from; k < to; k++ {
		way *= d.Prob(x, g, l.Survival(k), z).P * miss(k+1)
	}
	if to == from {
		return 1
	}
	return way * at / chi
}
