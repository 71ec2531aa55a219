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
	s.pairwise([]int{a, b}, []float64{gv, e - t.n}, [][]float64{{gv - v*v*t.days*w, -2 * gv}, {0, -2 * e}}, t.z, 1, order)
}

// pairwise adds first and second derivatives by the predictors of slots (in
// rising order; second[i][j] for i ≤ j), times w.
func (s *moments) pairwise(slots []int, first []float64, second [][]float64, z []float64, w float64, order int) {
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
					row[slots[j]] += t * second[i][j]
				}
			}
		}
	}
}

// wait adds the log-likelihood of t. As in the chain without times, χ is
// linear in each survival and each q: with G_b = ∂χ/∂η_b,
// ∂²χ/∂η_a∂η_b = u_a G_b for a before b, and G_a V_a for a itself.
func (s *moments) wait(c *chain, d *Design, x []float64, t *Wait, order int) {
	l := d.Layout
	last := l.sites - 1
	i := t.Site
	if i == last {
		return
	}
	c.set(d, x, t.Class, t.Z)
	law := passtime.Law{Drift: d.Prob(x, t.Class, l.Drift(), t.Z).P, Spread: d.Prob(x, t.Class, l.Spread(), t.Z).P}
	// At site j: arrive[j] = S…q… that it comes there alive and unseen since
	// i, late[j] = 1 − F, f[j] = F with its derivatives.
	arrive, late := make([]float64, last+1), make([]float64, last+1)
	f := make([]passtime.Derivatives, last+1)
	reach := 1.0
	chi := c.chi[i]
	for j := i + 1; j <= last; j++ {
		reach *= c.probs[l.survival[j-1]].P
		arrive[j] = reach
		law.Km = l.Distance(i, j)
		if order >= 1 {
			f[j] = law.CDFDerivatives(t.Days)
		}
		late[j] = law.Tail(t.Days)
		chi += reach * (1 - c.miss[j]) * late[j]
		reach *= c.miss[j]
	}
	s.f += t.Weight * math.Log(chi)
	if order < 1 {
		return
	}
	// On the log scale of drift and spread.
	v, sd := law.Drift, law.Spread
	for j := i + 1; j <= last; j++ {
		p := &f[j]
		p.VV, p.VS, p.SS = v*v*p.VV+v*p.V, v*sd*p.VS, sd*sd*p.SS+sd*p.S
		p.V, p.S = v*p.V, sd*p.S
	}
	n := l.river - l.survival[i]
	slots := make([]int, 0, n+2)
	g := make([]float64, 0, n+2)                     // ∂χ/∂η
	u := make([]float64, 0, n+2)                     // of the slot
	gv, gs := make([]float64, n), make([]float64, n) // ∂²χ/∂η∂log v, …∂log σ
	vv := make([]float64, 0, n)
	// below[k] = Σ_{j≥k} A_j F_j, in three versions.
	type three struct{ f, v, s float64 }
	below := make([]three, last+2)
	for j := last; j > i; j-- {
		a := arrive[j] * (1 - c.miss[j])
		below[j] = three{below[j+1].f + a*(1-late[j]), below[j+1].v + a*f[j].V, below[j+1].s + a*f[j].S}
	}
	add := func(slot int, ua, va, value, byV, byS float64) {
		k := len(g)
		slots, u, vv = append(slots, slot), append(u, ua), append(vv, va)
		g = append(g, ua*value)
		gv[k], gs[k] = ua*byV, ua*byS
	}
	for k := i; k < last; k++ {
		p := &c.probs[l.survival[k]]
		b := below[k+1]
		add(l.survival[k], p.U, p.V, -b.f, -b.v, -b.s)
		pass := arrive[k+1] * c.miss[k+1]
		b = below[k+2]
		from, to := l.SiteRows(k + 1)
		for r := from; r < to; r++ {
			p := &c.probs[l.detect[r]]
			add(l.detect[r], p.W, p.V, pass*(1-late[k+1])-b.f, pass*f[k+1].V-b.v, pass*f[k+1].S-b.s)
		}
	}
	slots = append(slots, l.Drift(), l.Spread())
	g = append(g, -below[i+1].v, -below[i+1].s)
	second := make([][]float64, n+2)
	for a := range second {
		second[a] = make([]float64, n+2)
	}
	if order >= 2 {
		for a := range n {
			for b := a + 1; b < n; b++ {
				second[a][b] = u[a] * g[b]
			}
			second[a][a] = g[a] * vv[a]
			second[a][n], second[a][n+1] = gv[a], gs[a]
		}
		for j := i + 1; j <= last; j++ {
			a := arrive[j] * (1 - c.miss[j])
			second[n][n] -= a * f[j].VV
			second[n][n+1] -= a * f[j].VS
			second[n+1][n+1] -= a * f[j].SS
		}
		for a := range second {
			for b := a; b < len(second); b++ {
				second[a][b] = second[a][b]/chi - g[a]*g[b]/(chi*chi)
			}
		}
	}
	for a := range g {
		g[a] /= chi
	}
	s.pairwise(slots, g, second, t.Z, t.Weight, order)
}
