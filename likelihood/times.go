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
	// Fresh: the trip starts at the release, where a share of the fish may
	// rest first.
	Fresh bool
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
	Fresh  bool // see [Trip]
}

// maxMovement is the most slots of movement a layout has: drift, spread, and
// where fish may rest the share that does and the way it loses by it.
const maxMovement = 4

// moving is a number with its derivatives by the predictors of the movement
// slots: log drift, log spread, logit of the share that rests, log of the km
// it loses.
type moving struct {
	f float64
	g [maxMovement]float64
	h [maxMovement][maxMovement]float64 // upper half
}

// law is the passage law of fish of one class and numbers.
type law struct {
	drift, spread float64
	rest, km      float64 // share, and the way lost by it
	resting       bool
}

func lawOf(d *Design, x []float64, g int, z []float64, fresh bool) law {
	l := d.Layout
	w := law{drift: d.Prob(x, g, l.Drift(), z).P, spread: d.Prob(x, g, l.Spread(), z).P}
	if fresh && l.Resting {
		w.resting = true
		w.rest, w.km = d.Prob(x, g, l.Rest(), z).P, d.Prob(x, g, l.RestKm(), z).P
	}
	return w
}

// onLogs turns derivatives by v and σ of a number that does not change when
// all lengths are scaled together into those by log v, log σ and log d: with
// d ∂/∂d = −(v ∂/∂v + σ ∂/∂σ). The third derivative is by log d.
func onLogs(p passtime.Derivatives, v, sd float64) (g [3]float64, h [3][3]float64) {
	a, b := v*p.V, sd*p.S
	aa, ab, bb := v*v*p.VV+a, v*sd*p.VS, sd*sd*p.SS+b
	g = [3]float64{a, b, -(a + b)}
	h[0][0], h[0][1], h[1][1] = aa, ab, bb
	h[0][2], h[1][2] = -(aa + ab), -(ab + bb)
	h[2][2] = aa + 2*ab + bb
	return g, h
}

// plain is p as a moving number of drift and spread alone.
func plain(p passtime.Derivatives, v, sd float64) moving {
	g, h := onLogs(p, v, sd)
	out := moving{f: p.Value}
	out.g[0], out.g[1] = g[0], g[1]
	out.h[0][0], out.h[0][1], out.h[1][1] = h[0][0], h[0][1], h[1][1]
	return out
}

// lagging is p, taken at km + lost, as a moving number: the way is km plus
// what is lost, and the latter is a coefficient too.
func lagging(p passtime.Derivatives, v, sd, km, lost float64) moving {
	g, h := onLogs(p, v, sd)
	out := plain(p, v, sd)
	// ∂ log d / ∂ log lost = lost/d =: s, and its own derivative s(1 − s).
	s := lost / (km + lost)
	out.g[3] = g[2] * s
	out.h[0][3], out.h[1][3] = h[0][2]*s, h[1][2]*s
	out.h[3][3] = h[2][2]*s*s + g[2]*s*(1-s)
	return out
}

// mixed is (1−ρ) a + ρ b.
func mixed(a, b moving, rho float64) moving {
	var out moving
	q := 1 - rho
	out.f = q*a.f + rho*b.f
	for i := range maxMovement {
		out.g[i] = q*a.g[i] + rho*b.g[i]
		for j := i; j < maxMovement; j++ {
			out.h[i][j] = q*a.h[i][j] + rho*b.h[i][j]
		}
	}
	// ρ on its logit: ρ' = ρq, ρ'' = ρq(q − ρ).
	out.g[2] = rho * q * (b.f - a.f)
	out.h[2][2] = rho * q * (q - rho) * (b.f - a.f)
	for i := range maxMovement {
		if i != 2 {
			out.h[min(i, 2)][max(i, 2)] = rho * q * (b.g[i] - a.g[i])
		}
	}
	return out
}

// come is the chance to have come over km by days, and late its complement.
func (w law) come(km, days float64, order int) (f moving, late float64) {
	one := passtime.Law{Km: km, Drift: w.drift, Spread: w.spread}
	late = one.Tail(days)
	if order >= 1 {
		f = plain(one.CDFDerivatives(days), w.drift, w.spread)
	}
	if !w.resting {
		return f, late
	}
	two := passtime.Law{Km: km + w.km, Drift: w.drift, Spread: w.spread}
	late = (1-w.rest)*late + w.rest*two.Tail(days)
	if order >= 1 {
		f = mixed(f, lagging(two.CDFDerivatives(days), w.drift, w.spread, km, w.km), w.rest)
	}
	return f, late
}

// logDensity is the log-density of a time over km, for fish of which a share rests.
func (w law) logDensity(km, days float64) moving {
	a := plain(passtime.Law{Km: km, Drift: w.drift, Spread: w.spread}.LogDensityDerivatives(days), w.drift, w.spread)
	b := lagging(passtime.Law{Km: km + w.km, Drift: w.drift, Spread: w.spread}.LogDensityDerivatives(days), w.drift, w.spread, km, w.km)
	// Both densities are taken relative to the larger.
	top := max(a.f, b.f)
	m := mixed(exponential(a, top), exponential(b, top), w.rest)
	out := moving{f: top + math.Log(m.f)}
	for i := range maxMovement {
		out.g[i] = m.g[i] / m.f
		for j := range i + 1 {
			out.h[j][i] = m.h[j][i]/m.f - m.g[i]*m.g[j]/(m.f*m.f)
		}
	}
	return out
}

// exponential is exp(a − top).
func exponential(a moving, top float64) moving {
	e := math.Exp(a.f - top)
	out := moving{f: e}
	for i := range maxMovement {
		out.g[i] = e * a.g[i]
		for j := range i + 1 {
			out.h[j][i] = e * (a.h[j][i] + a.g[i]*a.g[j])
		}
	}
	return out
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

// sumTrips adds up the trips of fish alike in drift and spread, in order,
// without those that may have begun with a rest.
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
		if t.Fresh && d.Layout.Resting {
			continue
		}
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

// rested adds the log-density of a trip that may have begun with a rest.
func (s *moments) rested(d *Design, x []float64, t *Trip, order int) {
	m := lawOf(d, x, t.Class, t.Z, true).logDensity(t.Km, t.Days)
	s.f += t.Weight * m.f
	if order < 1 {
		return
	}
	var second [maxMovement * maxMovement]float64
	for i := range maxMovement {
		for j := i; j < maxMovement; j++ {
			second[i*maxMovement+j] = m.h[i][j]
		}
	}
	s.pairwise(d.Layout.movement(), m.g[:], second[:], t.Z, t.Weight, order)
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
	arrive []float64 // site: S…q…, comes there alive and unseen since i
	late   []float64 // site: 1 − F
	f      []moving  // site: F
	// below[k] = Σ over j ≥ k of A_j F_j, A_j being the chance to be next seen
	// at j; without second derivatives.
	below []moving
	// For each river slot from the survival of reach i on, in order:
	slots []int
	u, v  []float64              // logarithmic derivative of S or q, and the link's V
	g     []float64              // ∂χ/∂η; at the end by the movement slots
	gm    [][maxMovement]float64 // ∂²χ by η and the movement slots

	first, second []float64 // scratch of the log-likelihood's derivatives
}

func newWaiting(l *Layout) *waiting {
	return &waiting{arrive: make([]float64, l.sites), late: make([]float64, l.sites),
		f: make([]moving, l.sites), below: make([]moving, l.sites+1)}
}

// set follows a wait along the river; order 0 leaves derivatives out.
func (w *waiting) set(c *chain, d *Design, x []float64, t *Wait, order int) {
	l := d.Layout
	last := l.sites - 1
	i := t.Site
	c.set(d, x, t.Class, t.Z)
	way := lawOf(d, x, t.Class, t.Z, t.Fresh)
	w.chi = c.chi[i]
	reach := 1.0
	for j := i + 1; j <= last; j++ {
		reach *= c.probs[l.survival[j-1]].P
		w.arrive[j] = reach
		w.f[j], w.late[j] = way.come(l.Distance(i, j), t.Days, order)
		w.chi += reach * (1 - c.miss[j]) * w.late[j]
		reach *= c.miss[j]
	}
	if order < 1 {
		return
	}
	w.below[last+1] = moving{}
	for j := last; j > i; j-- {
		a := w.arrive[j] * (1 - c.miss[j])
		b := w.below[j+1]
		b.f += a * (1 - w.late[j])
		for m := range b.g {
			b.g[m] += a * w.f[j].g[m]
		}
		w.below[j] = b
	}
	w.slots, w.u, w.v, w.g, w.gm = w.slots[:0], w.u[:0], w.v[:0], w.g[:0], w.gm[:0]
	add := func(slot int, u, link, sign float64, part *moving) {
		w.slots, w.u, w.v = append(w.slots, slot), append(w.u, u), append(w.v, link)
		w.g = append(w.g, sign*u*part.f)
		var by [maxMovement]float64
		for m := range by {
			by[m] = sign * u * part.g[m]
		}
		w.gm = append(w.gm, by)
	}
	for k := i; k < last; k++ {
		p := &c.probs[l.survival[k]]
		add(l.survival[k], p.U, p.V, -1, &w.below[k+1])
		past := w.past(c, k+1)
		from, to := l.SiteRows(k + 1)
		for r := from; r < to; r++ {
			p := &c.probs[l.detect[r]]
			add(l.detect[r], p.W, p.V, 1, &past)
		}
	}
	for m := range l.movementSlots() {
		w.g = append(w.g, -w.below[i+1].g[m])
	}
}

// past is the chance to have passed site k unseen by the end and not to have
// been seen farther down since.
func (w *waiting) past(c *chain, k int) moving {
	a := w.arrive[k] * c.miss[k]
	b := &w.below[k+1]
	out := moving{f: a*(1-w.late[k]) - b.f}
	for m := range out.g {
		out.g[m] = a*w.f[k].g[m] - b.g[m]
	}
	return out
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
	move := l.movementSlots()
	all := n + move
	slots := append(w.slots, l.movement()...)
	w.first = zeroed(w.first, all)
	first := w.first
	for a := range first {
		first[a] = w.g[a] / w.chi
	}
	if order >= 2 {
		w.second = zeroed(w.second, all*all)
		second := w.second
		for a := range n {
			row := second[a*all : (a+1)*all]
			row[a] = w.g[a] * w.v[a]
			for b := a + 1; b < n; b++ {
				row[b] = w.u[a] * w.g[b]
			}
			copy(row[n:], w.gm[a][:move])
		}
		for j := t.Site + 1; j < l.sites; j++ {
			a := w.arrive[j] * (1 - c.miss[j])
			for p := range move {
				for q := p; q < move; q++ {
					second[(n+p)*all+n+q] -= a * w.f[j].h[p][q]
				}
			}
		}
		for a := range all {
			for b := a; b < all; b++ {
				second[a*all+b] = second[a*all+b]/w.chi - first[a]*first[b]
			}
		}
	}
	s.pairwise(slots, first, w.second, t.Z, t.Weight, order)
}

// SurvivedBy is, of newly released fish, the probability to have come to site
// k by the end of the data: S_e … S_{k−1} F_ek.
func SurvivedBy(d *Design, x []float64, fish []Wait) []Passage {
	return waitPassages(d, x, fish, func(c *chain, w *waiting, t *Wait, k int, add func(slot int, v float64)) float64 {
		// arrive leaves out what was missed on the way: here it does not matter.
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
		for m, a := range l.movement() {
			add(a, q*w.f[k].g[m])
		}
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
		for m, a := range l.movement() {
			add(a, past.g[m]/w.chi-q*w.g[n+m]/w.chi)
		}
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
// counts (test passes) are added as they are. It panics in a layout where fish
// may rest: of a mixture the expectation has no closed form.
func ExpectedInformation(d *Design, x []float64, releases []Wait, fixed []Unit) []float64 {
	l := d.Layout
	if l.Resting {
		panic("likelihood: no expected information where fish may rest")
	}
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
			trip.days += a * (km*f - w.f[j].g[0]*sd*sd/v) / v
			e += a * (w.f[j].g[1] + f)
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
