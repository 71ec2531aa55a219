package likelihood

import (
	"math"

	"example.org/unseen/likelihood/passtime"
)

// Trip is the time a fish took from one sighting (or its release) to the next.
type Trip struct {
	Class  int
	Z      []float64 // Design.Numbers values
	Km     float64   // the way, > 0
	Days   float64   // > 0
	Weight float64
}

// Wait is a fish last sighted (or released) at Site, first there Days before
// the day the data end, and not seen since. With S, q and F the chance to have
// come by then, it is never seen with probability
//
//	χ = 1 − Σ_j S_i…S_{j−1} q_{i+1}…q_{j−1} (1 − q_j) F_ij,  j > i
type Wait struct {
	Class  int
	Z      []float64
	Site   int
	Days   float64 // ≥ 0
	Weight float64
}

// tripSum is all trips of fish with the same drift and spread, in the sums
// their likelihood needs:
//
//	log f = log d − log σ − ½ log 2π − ³⁄₂ log t − (d²/t − 2dv + v²t)/(2σ²)
type tripSum struct {
	class            int
	z                []float64
	n                float64
	fixed            float64 // Σ log d − ½ log 2π − ³⁄₂ log t
	quick, way, days float64 // Σ d²/t, Σ d, Σ t
}

// sumTrips adds up the trips of fish alike in drift and spread, in order.
func sumTrips(d *Design, trips []Trip) []tripSum {
	if len(trips) == 0 {
		return nil
	}
	vary := make([]bool, d.Classes())
	for g := range vary {
		vary[g] = d.Varies(g, d.Layout.Drift()) || d.Varies(g, d.Layout.Spread())
	}
	var out []tripSum
	index := make([]int, d.Classes()) // class → its sum + 1
	for i := range trips {
		t := &trips[i]
		j := index[t.Class] - 1
		if j < 0 || vary[t.Class] {
			j = len(out)
			out = append(out, tripSum{class: t.Class, z: t.Z})
			index[t.Class] = j + 1
		}
		s := &out[j]
		s.n += t.Weight
		s.fixed += t.Weight * (math.Log(t.Km) - 0.5*math.Log(2*math.Pi) - 1.5*math.Log(t.Days))
		s.quick += t.Weight * t.Km * t.Km / t.Days
		s.way += t.Weight * t.Km
		s.days += t.Weight * t.Days
	}
	return out
}

// trip adds the log-density of t. On the scale of log v and log σ, with
// E = (Σd²/t − 2vΣd + v²Σt)/σ²:
//
//	F = fixed − n log σ − E/2
func (s *moments) trip(d *Design, x []float64, t *tripSum, order int) {
	l := d.Layout
	a, b := l.Drift(), l.Spread()
	v, sd := d.Prob(x, t.class, a, t.z).P, d.Prob(x, t.class, b, t.z).P
	w := 1 / (sd * sd)
	e := (t.quick - 2*v*t.way + v*v*t.days) * w
	s.f += t.fixed - t.n*math.Log(sd) - e/2
	if order < 1 {
		return
	}
	gv := v * (t.way - v*t.days) * w
	s.pairwise([]int{a, b}, []float64{gv, e - t.n}, []float64{gv - v*v*t.days*w, -2 * gv, 0, -2 * e}, t.z, 1, order)
}

// pairwise adds first and second derivatives by the predictors of slots (in
// rising order; second square, its upper half used), times w.
func (s *moments) pairwise(slots []int, first, second, z []float64, w float64, order int) {
	v := s.slots
	for i, a := range slots {
		for n, zn := range z {
			s.g[n*v+a] += w * zn * first[i]
			if order < 2 {
				continue
			}
			for m := 0; m <= n; m++ {
				row := s.m[(pair(n, m)*v+a)*v:]
				t := w * zn * z[m]
				for j := i; j < len(slots); j++ {
					row[slots[j]] += t * second[i*len(slots)+j]
				}
			}
		}
	}
}

// waiting is what one wait needs: for site j > i, the sites a fish can come to.
type waiting struct {
	chi    float64
	arrive []float64              // site: S…q…, comes there alive and unseen since i
	late   []float64              // site: 1 − F
	f      []passtime.Derivatives // site: F by log drift and log spread
	// below[k] = Σ over j ≥ k of A_j F_j, A_j being the chance to be next seen at j.
	below []drifting
	// For each river slot from the survival of reach i on, in order:
	slots []int
	u, v  []float64 // logarithmic derivative of S or q, and the link's V
	g     []float64 // ∂χ/∂η; at the end by drift and spread
	gv    []float64 // ∂²χ/∂η∂log drift
	gs    []float64 // ∂²χ/∂η∂log spread

	first, second []float64 // scratch of the log-likelihood's derivatives
}

// drifting is a number with its derivatives by log drift and log spread.
type drifting struct{ f, v, s float64 }

func newWaiting(l *Layout) *waiting {
	return &waiting{arrive: make([]float64, l.sites), late: make([]float64, l.sites),
		f: make([]passtime.Derivatives, l.sites), below: make([]drifting, l.sites+1)}
}

// set follows a wait along the river; order 0 leaves derivatives out.
func (w *waiting) set(c *chain, d *Design, x []float64, t *Wait, order int) {
	l := d.Layout
	last := l.sites - 1
	i := t.Site
	c.set(d, x, t.Class, t.Z)
	law := passtime.Law{Drift: d.Prob(x, t.Class, l.Drift(), t.Z).P, Spread: d.Prob(x, t.Class, l.Spread(), t.Z).P}
	w.chi = c.chi[i]
	reach := 1.0
	for j := i + 1; j <= last; j++ {
		reach *= c.probs[l.survival[j-1]].P
		w.arrive[j] = reach
		law.Km = l.Distance(i, j)
		w.late[j] = law.Tail(t.Days)
		w.chi += reach * (1 - c.miss[j]) * w.late[j]
		reach *= c.miss[j]
	}
	if order < 1 {
		return
	}
	v, sd := law.Drift, law.Spread
	w.below[last+1] = drifting{}
	for j := last; j > i; j-- {
		law.Km = l.Distance(i, j)
		p := law.CDFDerivatives(t.Days)
		p.VV, p.VS, p.SS = v*v*p.VV+v*p.V, v*sd*p.VS, sd*sd*p.SS+sd*p.S
		p.V, p.S = v*p.V, sd*p.S
		w.f[j] = p
		a := w.arrive[j] * (1 - c.miss[j])
		b := w.below[j+1]
		w.below[j] = drifting{b.f + a*(1-w.late[j]), b.v + a*p.V, b.s + a*p.S}
	}
	w.slots, w.u, w.v, w.g, w.gv, w.gs = w.slots[:0], w.u[:0], w.v[:0], w.g[:0], w.gv[:0], w.gs[:0]
	add := func(slot int, u, link float64, part drifting) {
		w.slots, w.u, w.v = append(w.slots, slot), append(w.u, u), append(w.v, link)
		w.g, w.gv, w.gs = append(w.g, u*part.f), append(w.gv, u*part.v), append(w.gs, u*part.s)
	}
	for k := i; k < last; k++ {
		p := &c.probs[l.survival[k]]
		b := w.below[k+1]
		add(l.survival[k], p.U, p.V, drifting{-b.f, -b.v, -b.s})
		past := w.past(c, k+1)
		from, to := l.SiteRows(k + 1)
		for r := from; r < to; r++ {
			p := &c.probs[l.detect[r]]
			add(l.detect[r], p.W, p.V, past)
		}
	}
	w.g = append(w.g, -w.below[i+1].v, -w.below[i+1].s)
}

// past is the chance to have passed site k unseen by the end and not to have
// been seen farther down since.
func (w *waiting) past(c *chain, k int) drifting {
	a, b := w.arrive[k]*c.miss[k], w.below[k+1]
	return drifting{a*(1-w.late[k]) - b.f, a*w.f[k].V - b.v, a*w.f[k].S - b.s}
}

// wait adds the log-likelihood of t. As in the chain without times, χ is
// linear in each survival and each q: with G_b = ∂χ/∂η_b,
// ∂²χ/∂η_a∂η_b = u_a G_b for a before b, and G_a V_a for a itself.
func (s *moments) wait(c *chain, w *waiting, d *Design, x []float64, t *Wait, order int) {
	l := d.Layout
	if t.Site == l.sites-1 {
		return
	}
	w.set(c, d, x, t, order)
	s.f += t.Weight * math.Log(w.chi)
	if order < 1 {
		return
	}
	n := len(w.slots)
	m := n + 2
	slots := append(w.slots, l.Drift(), l.Spread())
	w.first = zeroed(w.first, m)
	first := w.first
	for a := range first {
		first[a] = w.g[a] / w.chi
	}
	if order >= 2 {
		w.second = zeroed(w.second, m*m)
		second := w.second
		for a := range n {
			row := second[a*m : (a+1)*m]
			row[a] = w.g[a] * w.v[a]
			for b := a + 1; b < n; b++ {
				row[b] = w.u[a] * w.g[b]
			}
			row[n], row[n+1] = w.gv[a], w.gs[a]
		}
		for j := t.Site + 1; j < l.sites; j++ {
			a := w.arrive[j] * (1 - c.miss[j])
			second[n*m+n] -= a * w.f[j].VV
			second[n*m+n+1] -= a * w.f[j].VS
			second[(n+1)*m+n+1] -= a * w.f[j].SS
		}
		for a := range m {
			for b := a; b < m; b++ {
				second[a*m+b] = second[a*m+b]/w.chi - first[a]*first[b]
			}
		}
	}
	s.pairwise(slots, first, w.second, t.Z, t.Weight, order)
}

// SurvivedBy is, of newly released fish, the probability to have come to site
// k by the end of the data: S_e … S_{k−1} F_ek.
func SurvivedBy(d *Design, x []float64, fish []Wait) []Passage {
	return waitPassages(d, x, fish, func(c *chain, w *waiting, t *Wait, k int, add func(slot int, v float64)) float64 {
		// arrive and past leave out what was missed on the way: undo it.
		l := d.Layout
		q := 1.0
		for r := t.Site; r < k; r++ {
			q *= c.probs[l.survival[r]].P
		}
		f := 1 - w.late[k]
		for r := t.Site; r < k; r++ {
			a := l.survival[r]
			add(a, q*f*c.probs[a].U)
		}
		add(l.Drift(), q*w.f[k].V)
		add(l.Spread(), q*w.f[k].S)
		return q * f
	})
}

// UnseenBy is, of fish last seen (or released) at site i and not since, the
// probability that they have passed site k > i by the end of the data.
func UnseenBy(d *Design, x []float64, fish []Wait) []Passage {
	return waitPassages(d, x, fish, func(c *chain, w *waiting, t *Wait, k int, add func(slot int, v float64)) float64 {
		l := d.Layout
		past := w.past(c, k)
		q := past.f / w.chi
		for n, a := range w.slots {
			v := w.g[n] // beyond k: as in χ
			if a < l.start(k) {
				v = w.u[n] * past.f
			}
			add(a, v/w.chi-q*w.g[n]/w.chi)
		}
		n := len(w.slots)
		add(l.Drift(), past.v/w.chi-q*w.g[n]/w.chi)
		add(l.Spread(), past.s/w.chi-q*w.g[n+1]/w.chi)
		return q
	})
}

func waitPassages(d *Design, x []float64, fish []Wait, one func(c *chain, w *waiting, t *Wait, k int, add func(slot int, v float64)) float64) []Passage {
	l := d.Layout
	c, w := newChain(l), newWaiting(l)
	var out []Passage
	index := map[int]int{}
	for i := range fish {
		t := &fish[i]
		j, ok := index[t.Class]
		if !ok {
			j = len(out)
			index[t.Class] = j
			out = append(out, Passage{Class: t.Class, Sites: newSiteSums(d)})
		}
		w.set(c, d, x, t, 1)
		for k := t.Site + 1; k < l.sites; k++ {
			s := &out[j].Sites[k]
			q := one(c, w, t, k, func(slot int, v float64) {
				for n, zn := range t.Z {
					s.g[n*l.Slots()+slot] += t.Weight * zn * v
				}
			})
			s.Fish += t.Weight
			s.Value += t.Weight * q
			s.Own += t.Weight * q * (1 - q)
		}
	}
	return out
}

// ExpectedInformation is minus the expected Hessian at x of the log-likelihood
// with times, Columns × Columns: of the releases, each let go at its Site with
// Days left until the data end, every one followed to its next sighting. fixed
// counts (test passes) are added as they are.
func ExpectedInformation(d *Design, x []float64, releases []Wait, fixed []Unit) []float64 {
	l := d.Layout
	c, w := newChain(l), newWaiting(l)
	data := &Data{Units: append([]Unit(nil), fixed...)}
	var trips []tripSum
	for i := range releases {
		t := releases[i]
		if t.Site == l.sites-1 {
			continue
		}
		w.set(c, d, x, &t, 1)
		v, sd := d.Prob(x, t.Class, l.Drift(), t.Z).P, d.Prob(x, t.Class, l.Spread(), t.Z).P
		u := NewUnit(l, t.Class, t.Z)
		trip := tripSum{class: t.Class, z: t.Z}
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
			// Sums of the times, from the score: ∂F/∂log v and ∂F/∂log σ are
			// the means of the score over those that have come.
			a := t.Weight * w.arrive[j] * (1 - c.miss[j])
			km, f := l.Distance(t.Site, j), 1-w.late[j]
			trip.n += a * f
			trip.way += a * km * f
			trip.days += a * (km*f - w.f[j].V*sd*sd/v) / v
			e += a * (w.f[j].S + f)
		}
		trip.quick = e*sd*sd + 2*v*trip.way - v*v*trip.days
		trips = append(trips, trip)
		data.Units = append(data.Units, u)
		t.Weight *= w.chi
		data.Waits = append(data.Waits, t)
	}
	o := NewCJS(d, data)
	o.trips = trips
	o.blocks, o.sums = nil, nil
	o.cut()
	o.sums = make([]Point, len(o.blocks))
	var p Point
	o.Eval(x, 2, &p)
	for i := range p.H {
		p.H[i] = -p.H[i]
	}
	return p.H
}
