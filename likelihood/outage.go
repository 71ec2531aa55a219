package likelihood

import "math"

// take takes fish of class g with numbers z, and c their probabilities, if those
// before were not alike.
func (s *sweep) take(c *chain, d *Design, x []float64, g int, z []float64, order int) {
	if s.class == g {
		return
	}
	c.set(d, x, g, z)
	s.enter(c, d, x, g, z, order)
	if s.class = g; d.Differs(g) {
		s.class = -1
	}
}

// enter takes fish of class g with numbers z, of which c holds the probabilities.
func (s *sweep) enter(c *chain, d *Design, x []float64, g int, z []float64, order int) {
	l := s.layout
	s.way.set(d, x, g, z, true)
	s.lay(order)
	s.z, s.taken = z, 0
	clear(s.fates)
	for i := range s.blends {
		s.blends[i].ready = false
	}
	for k := 1; k < l.sites; k++ {
		a := l.survival[k-1]
		s.alive[k-1].slot(a, c.probs[a].P, c.probs[a].U, c.probs[a].V)
		for m, on := range l.work[k].states {
			q := &s.pass[k-1][m]
			q.clear()
			q.f = 1
			rows := rowsOf(on)
			for _, b := range rows {
				q.f *= c.probs[l.detect[b]].Q
			}
			for _, b := range rows {
				p := &c.probs[l.detect[b]]
				q.g[l.detect[b]] = q.f * p.W
				for _, e := range rows {
					if e != b {
						*q.at(l.detect[b], l.detect[e]) = q.f * p.W * c.probs[l.detect[e]].W
					}
				}
				*q.at(l.detect[b], l.detect[b]) = q.f * p.W * p.V
			}
		}
		s.seen[k-1].clear()
		s.seen[k-1].f = 1
		s.seen[k-1].addScaled(-1, &s.pass[k-1][0])
	}
}

// slot sets m to the probability p of slot a.
func (m *moving) slot(a int, p, u, v float64) {
	m.clear()
	m.f, m.g[a] = p, p*u
	*m.at(a, a) = p * u * v
}

// between are the fates of fish next seen at site j since site i.
func (s *sweep) between(i, j int) []fate {
	if p, ok := s.fates[[2]int{i, j}]; ok {
		return p
	}
	var out []fate
	for _, c := range s.ways.from(i, j) {
		p := fate{course: c}
		way := s.river()
		way.f = 1
		by := func(m *moving) { // way *= m
			s.product.clear()
			s.product.addProduct(1, way, m, 2)
			way.set(&s.product)
		}
		k := i
		for ; c.rest != nil; c = c.rest {
			for ; k+1 < c.site; k++ {
				by(&s.alive[k])
				by(&s.pass[k][0])
			}
			by(&s.alive[k])
			by(s.less(c.site, c.state))
			k = c.site
		}
		for ; k+1 < j; k++ {
			by(&s.alive[k])
			by(&s.pass[k][0])
		}
		by(&s.alive[k])
		p.seen, p.unseen = s.river(), s.river()
		if c.state == 0 {
			p.seen.addProduct(1, way, &s.seen[j-1], 2)
			p.unseen.addProduct(1, way, &s.pass[j-1][0], 2)
		} else {
			p.unseen.addProduct(1, way, s.less(j, c.state), 2)
			p.seen.addScaled(-1, p.unseen)
		}
		out = append(out, p)
	}
	s.fates[[2]int{i, j}] = out
	return out
}

// across are the courses of fish seen at site i and next at site j, with the
// chance to pass unseen those of the sites between that are not always at full
// work.
func (s *sweep) across(i, j int) []fate {
	key := [2]int{j, i}
	if p, ok := s.fates[key]; ok {
		return p
	}
	var out []fate
	idle := s.layout.idleSites(i, j)
	for _, c := range s.ways.from(i, j) {
		if c.last().state != 0 {
			continue // as any other that ends there
		}
		p := fate{course: c, unseen: s.river()}
		p.unseen.f = 1
		for _, k := range idle {
			m := &s.pass[k-1][0]
			if c.rest != nil && c.site == k {
				m = s.less(k, c.state)
				c = c.rest
			}
			s.product.clear()
			s.product.addProduct(1, p.unseen, m, 2)
			p.unseen.set(&s.product)
		}
		out = append(out, p)
	}
	s.fates[key] = out
	return out
}

// less is q(m) − q(0) of site k.
func (s *sweep) less(k, m int) *moving {
	out := s.river()
	out.addScaled(1, &s.pass[k-1][m])
	out.addScaled(-1, &s.pass[k-1][0])
	return out
}

// river is a moving of the river's slots, zero, until the next fish enter.
func (s *sweep) river() *moving {
	if s.taken == len(s.rivers) {
		m := newMoving(s.layout.river)
		s.rivers = append(s.rivers, &m)
	}
	s.taken++
	m := s.rivers[s.taken-1]
	m.clear()
	return m
}

// join adds w times a (of the river's slots) times b (of movement) to out, of
// all slots, with first derivatives.
func join(w float64, a, b, out *moving) {
	out.f += w * a.f * b.f
	n := len(a.g)
	for i, v := range a.g {
		out.g[i] += w * v * b.f
	}
	for i, v := range b.g {
		out.g[n+i] += w * a.f * v
	}
}

// never is the chance that fish of t are never seen again, as a blend, with the
// factors of movement in s.factors.
func (s *sweep) never(t *Wait) *blend {
	s.way.resting = t.Fresh && s.layout.Resting
	b := s.waits(t.Site)
	for i, c := range b.courses {
		if c != nil {
			s.chance(t.Site, t.At, c, &s.factors[i])
		} else {
			s.factors[i].clear()
			s.factors[i].f = 1
		}
	}
	return b
}

// next adds to out the chances that fish of t are next seen at each site.
func (s *sweep) next(t *Wait, out []float64) {
	s.way.resting = t.Fresh && s.layout.Resting
	for j := t.Site + 1; j < s.layout.sites; j++ {
		for _, p := range s.between(t.Site, j) {
			s.chance(t.Site, t.At, p.course, &s.way.out)
			out[j] += p.seen.f * s.way.out.f
		}
	}
}

// idleWait adds the log-likelihood of t, whose fish have been entered; its
// derivatives are added by [sweep.fold] when those of all fish alike are in.
func (s *moments) idleWait(w *sweep, t *Wait, order int) {
	if t.Site < w.layout.sites-1 {
		s.f += t.Weight * w.never(t).add(w.factors, t.Weight, order)
	}
}

// idleTrip adds the logarithm of the density of t's days, and of passing the
// sites between unseen, of those of them that are not always at full work; its
// derivatives as those of [moments.idleWait].
func (s *moments) idleTrip(w *sweep, t *TravelTime, order int) {
	w.way.resting = t.Fresh && w.layout.Resting
	f := &w.way.out
	w.way.logDensity(t.From, t.To, t.Days, w.order, f)
	top := f.f
	f.exponential(top)
	b := w.trips(t.From, t.To)
	for i, c := range b.courses {
		if c.rest != nil {
			w.arrive(t.From, t.At, c, t.At+t.Days, top, &w.factors[i])
		} else {
			w.factors[i].set(f)
		}
	}
	s.f += t.Weight * (top + b.add(w.factors, t.Weight, order))
}

// givenWork takes away the logarithm of the chance that t ended by the end of the
// data, at a time when some row was at work where it did.
func (s *moments) givenWork(w *sweep, d *Design, x []float64, t *TravelTime, order int) {
	w.way.set(d, x, t.Class, t.Z, t.Fresh)
	w.order = order
	some, idle := newMoving(len(w.layout.moves)), &w.way.out
	w.come(t.From, t.At, t.To, 0, &some)
	for m, on := range w.layout.work[t.To].states {
		if on == 0 {
			w.come(t.From, t.At, t.To, m, idle)
			some.addScaled(-1, idle)
		}
	}
	some.logarithm()
	s.moved(&some, d, t.Z, -t.Weight, order)
}

// idleUnseen is [UnseenBy] where rows do not work all the time.
func idleUnseen(d *Design, x []float64, fish []Wait) []PassedSums {
	l := d.Layout
	sums := newClassSums(d)
	unseen, below, chi := newMovings(l.sites, l.Slots()), newMoving(l.Slots()), newMoving(l.Slots())
	eachIdle(d, x, fish, 1, func(w *sweep, i int) {
		t := &fish[i]
		w.way.resting = t.Fresh && l.Resting
		// Come to k and unseen up to there, less what is seen farther down.
		chi.clear()
		chi.f = 1
		below.clear()
		for j := l.sites - 1; j > t.Site; j-- {
			u := &unseen[j]
			u.clear()
			u.addScaled(-1, &below)
			for _, p := range w.between(t.Site, j) {
				w.chance(t.Site, t.At, p.course, &w.way.out)
				join(1, p.unseen, &w.way.out, u)
				join(1, p.seen, &w.way.out, &below)
			}
		}
		chi.addScaled(-1, &below)
		for k := t.Site + 1; k < l.sites; k++ {
			u := &unseen[k]
			q := u.f / chi.f
			sums.add(t, k, func(add func(slot int, v float64)) float64 {
				for a, v := range u.g {
					add(a, (v-q*chi.g[a])/chi.f)
				}
				return q
			})
		}
	})
	return sums.out
}

// eachIdle is [eachWait] where rows do not work all the time.
func eachIdle(d *Design, x []float64, fish []Wait, order int, one func(w *sweep, i int)) {
	way := newWay(d.Layout)
	c, w := newChain(d.Layout), newSweep(d.Layout, &way)
	w.first, w.last = starts(&Data{Waits: fish})
	for i := range fish {
		w.take(c, d, x, fish[i].Class, fish[i].Z, order)
		one(w, i)
	}
}

// AtWork is, of the passages of newly released fish that would come to site k by
// the end were none to die, the share for which one of its numbered rows (as bits)
// is at work.
func AtWork(d *Design, x []float64, fish []Wait, k int, rows uint64) float64 {
	if !d.carries(x, fish) || k < 1 || k >= d.Layout.sites {
		return math.NaN()
	}
	l := d.Layout
	if l.work == nil {
		return 1
	}
	way := newWay(l)
	w := newSweep(l, &way)
	var at, all float64
	for i := range fish {
		t := &fish[i]
		if t.Site >= k {
			continue
		}
		w.way.set(d, x, t.Class, t.Z, t.Fresh)
		for m, on := range l.work[k].states {
			w.come(t.Site, t.At, k, m, &w.way.out)
			switch v := t.Weight * w.way.out.f; {
			case m == 0:
				at, all = at+v, all+v
			case on&rows == 0:
				at -= v
			}
		}
	}
	return at / all
}

// UnseenBy is, of fish last seen (or released) at site i and not since, the
// probability that they have passed site k > i by the end of the data.
func UnseenBy(d *Design, x []float64, fish []Wait) []PassedSums {
	if !d.carries(x, fish) {
		return nil
	}
	if d.Layout.Windowed() {
		return idleUnseen(d, x, fish)
	}
	by := make([]float64, d.Layout.sites)
	return waitSums(d, x, fish, func(c *chain, w *waiting, t *Wait, k int, add func(slot int, v float64)) float64 {
		l, s := d.Layout, &w.starts[t.Site]
		s.past(c, k, 1, by)
		past := w.share(by, k)
		q := past / w.chi
		for n := range s.rows {
			r := &s.rows[n]
			g := w.share(r.by, t.Site+1)
			v := g // beyond k: as in χ
			if r.slot < l.start(k) {
				v = r.u * past
			}
			add(r.slot, (v-q*g)/w.chi)
		}
		for m, a := range l.movement() {
			add(a, (w.moved(by, k, m)+q*w.moved(w.next, t.Site+1, m))/w.chi)
		}
		return q
	})
}

// trips is that of the density of a trip from site i to site j.
func (s *sweep) trips(i, j int) *blend {
	b := &s.blends[i*s.layout.sites+j]
	if b.ready {
		return b
	}
	b.begin()
	for _, p := range s.across(i, j) {
		b.take(s, p.course, p.unseen)
	}
	return b
}

// waits is the blend of the chance never to be seen again since site i.
func (s *sweep) waits(i int) *blend {
	b := &s.blends[i*s.layout.sites+i]
	if b.ready {
		return b
	}
	b.begin()
	sure := s.river()
	sure.f = 1
	b.take(s, nil, sure)
	for j := i + 1; j < s.layout.sites; j++ {
		for _, p := range s.between(i, j) {
			if s.certain(p.course) {
				sure.addScaled(-1, p.seen)
				continue
			}
			less := s.river()
			less.addScaled(-1, p.seen)
			b.take(s, p.course, less)
		}
	}
	return b
}

// NextSeen is, for each of the fish, the probability to be next seen at every site
// by the end of the data, while rows worked: of [Wait], 1 − χ by sites.
func NextSeen(d *Design, x []float64, fish []Wait) [][]float64 {
	if !d.carries(x, fish) {
		return nil
	}
	l, out := d.Layout, make([][]float64, len(fish))
	for i := range out {
		out[i] = make([]float64, l.sites)
	}
	if l.Windowed() {
		eachIdle(d, x, fish, 0, func(w *sweep, i int) { w.next(&fish[i], out[i]) })
		return out
	}
	eachWait(d, x, fish, 0, func(_ *chain, w *waiting, i int) {
		for j := fish[i].Site + 1; j < l.sites; j++ {
			out[i][j] = w.next[j] * (1 - w.late[j])
		}
	})
	return out
}
