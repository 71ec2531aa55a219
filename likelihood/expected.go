package likelihood

import (
	"math"
	"slices"
)

// Expected is what released[i] fish of class g with numbers z, let go at each
// site i, are expected to show: the counts of [Unit], with each release
// followed to the next sighting only. Minus the Hessian of the log-likelihood
// at these counts is the expected information.
func Expected(d *Design, x []float64, g int, z, released []float64) Unit {
	if d == nil || d.Layout == nil || len(released) > d.Layout.sites || d.has(g, z) != nil || d.CheckColumns(x) != nil {
		return Unit{}
	}
	l := d.Layout
	c := newChain(l)
	c.set(d, x, g, z)
	u := NewUnit(l, g, z)
	for i, r := range released {
		if r == 0 || i == l.sites-1 {
			continue
		}
		u.Never[i] += r * c.chi[i]
		reach := r // alive at site k and unseen since i
		for k := i; k < l.sites-1; k++ {
			s := c.probs[l.survival[k]].P
			u.Alive[k] += reach * s * c.again[k+1]
			reach *= s
			later := 0.0 // seen below k+1, given alive there and unseen there
			if k+1 < l.sites-1 {
				later = c.probs[l.survival[k+1]].P * c.again[k+2]
			}
			from, to := l.SiteRows(k + 1)
			for b := from; b < to; b++ {
				pr := &c.probs[l.detect[b]]
				u.Seen[b] += reach * pr.P
				u.Missed[b] += reach * (pr.Q - c.miss[k+1] + c.miss[k+1]*later)
			}
			reach *= c.miss[k+1]
		}
	}
	return u
}

// ExpectedInformation is minus the expected Hessian at x of the log-likelihood
// with times, Columns × Columns: of the releases, each let go at its Site with
// Days left until the data end, every one followed to its next sighting. fixed
// counts (test passes) are added as they are. It is nil in a layout where fish
// may rest, for of a mixture the expectation has no closed form, and where what is
// given does not fit the design. Times over several laws are taken in classes,
// which tell a little less than the times themselves.
func ExpectedInformation(d *Design, x []float64, releases []Wait, fixed []Unit) []float64 {
	if !d.carries(x, releases) || (&Data{Units: fixed}).fits(d) != nil || d.Layout.Resting {
		return nil
	}
	l := d.Layout
	c, w := newChain(l), newWaiting(l)
	data := &Data{Units: append([]Unit(nil), fixed...)}
	var travelTimes []travelTimeSum
	joined, inClasses := newMoments(d), classes{map[classKey][]cut{}}
	var sum Point
	sum.reset(d.Columns, 2)
	for i := range releases {
		t := releases[i]
		if t.Site == l.sites-1 {
			continue
		}
		c.set(d, x, t.Class, t.Z)
		w.enter(d, x, t.Class, t.Z)
		w.set(c, l, &t, 1)
		u := NewUnit(l, t.Class, t.Z)
		joined.clear(2)
		law := l.LawOf(t.Site)
		v, sd := w.way.laws[law].Drift, w.way.laws[law].Spread
		travelTime := travelTimeSum{class: t.Class, law: law, z: t.Z}
		var e float64
		for j := t.Site + 1; j < l.sites; j++ {
			// Next seen at j by the end: the product of the way, and at j the
			// rows given that one of them saw the fish.
			arrived := t.Weight * w.arrive[j] * (1 - w.late[j])
			next := arrived * (1 - c.miss[j])
			for k := t.Site; k < j; k++ {
				u.Alive[k] += next
				if k > t.Site {
					from, to := l.SiteRows(k)
					for b := from; b < to; b++ {
						u.Missed[b] += next
					}
				}
			}
			from, to := l.SiteRows(j)
			for b := from; b < to; b++ {
				p := &c.probs[l.detect[b]]
				u.Seen[b] += arrived * p.P
				u.Missed[b] += arrived * (p.Q - c.miss[j])
			}
			if l.LawOf(j-1) != law {
				inClasses.add(joined, &w.way, &t, j, t.Weight*w.arrive[j]*(1-c.miss[j]), !d.Differs(t.Class))
				continue
			}
			// Sums of the times, from the score: ∂F/∂log v and ∂F/∂log σ are
			// the means of the score over those that have come.
			a := t.Weight * w.arrive[j] * (1 - c.miss[j])
			km, f := l.Distance(t.Site, j), 1-w.late[j]
			travelTime.n += a * f
			travelTime.way += a * km * f
			travelTime.days += a * (km*f - w.f[j].g[0]*sd*sd/v) / v
			e += a * (w.f[j].g[1] + f)
		}
		travelTime.quick = e*sd*sd + 2*v*travelTime.way - v*v*travelTime.days
		travelTimes = append(travelTimes, travelTime)
		joined.fold(d, t.Class, 2, &sum)
		data.Units = append(data.Units, u)
		t.Weight *= w.chi
		data.Waits = append(data.Waits, t)
	}
	o := NewCJS(d, data)
	o.travelTimes = travelTimes
	o.blocks, o.sums = nil, nil
	o.cut()
	o.sums = make([]Point, len(o.blocks))
	var p Point
	o.Eval(x, 2, &p)
	for i := range p.H {
		p.H[i] = -p.H[i] - sum.H[i]
	}
	return p.H
}

// classes are the times over several laws in classes.
type classes struct {
	of map[classKey][]cut
}

type classKey struct{ class, from, to int }

// cut is an edge between two classes: the share come by then, and what the
// classes before tell.
type cut struct {
	days  float64
	share moving
	told  []float64
}

// add adds to s what the class of time tells, but for its sign, on the laws by
// which weight fish come to site j: Σ (∂P)(∂P)ᵀ/P − ∂²P over the classes, of which
// the second adds up to that of the share come by the end.
func (c *classes) add(s *moments, w *way, t *Wait, j int, weight float64, alike bool) {
	key := classKey{t.Class, t.Site, j}
	cuts := c.of[key]
	if cuts == nil || !alike {
		cuts = w.cuts(t.Site, j)
		c.of[key] = cuts
	}
	n := len(w.layout.moves)
	before := cut{share: newMoving(n), told: make([]float64, n*n)}
	for i := range cuts {
		if cuts[i].days >= t.Days {
			break
		}
		before = cuts[i]
	}
	last := w.cut(t.Site, j, t.Days, &before)
	for i, h := range last.share.h {
		last.told[i] += h
	}
	s.pairwise(w.layout.moves, make([]float64, n), last.told, t.Z, weight, 2)
}

// cuts are the edges between the classes: a fifth of a standard deviation apart
// around the mean, and some in the long tail.
func (w *way) cuts(i, j int) []cut {
	_, path := w.stretches(i, j, 0)
	var variance float64
	for _, law := range path {
		variance += law.SD() * law.SD()
	}
	mean, sd := path.Mean(), math.Sqrt(variance)
	n := len(w.layout.moves)
	out := []cut{{share: newMoving(n), told: make([]float64, n*n)}}
	for k := -10; k <= 20; k++ {
		e := 0.2 * float64(k)
		if k > 10 {
			e = 2 + 0.1*float64((k-10)*(k-10))
		}
		if days := mean + e*sd; days > 0.02*mean {
			out = append(out, w.cut(i, j, days, &out[len(out)-1]))
		}
	}
	return out
}

// cut is the edge at so many days after the one before.
func (w *way) cut(i, j int, days float64, before *cut) cut {
	n := len(w.layout.moves)
	c := cut{days, newMoving(n), slices.Clone(before.told)}
	w.come(i, j, days, 2, &c.share)
	p := c.share.f - before.share.f
	for a := range n {
		for b := a; b < n && p > 1e-12; b++ {
			c.told[a*n+b] -= (c.share.g[a] - before.share.g[a]) * (c.share.g[b] - before.share.g[b]) / p
		}
	}
	return c
}
