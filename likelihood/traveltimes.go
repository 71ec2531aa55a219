package likelihood

import "math"

// moments are the sums over fish of one class from which gradient and Hessian
// follow for any design: with η_a = Σ_n z_n B[n,a], the derivative by
// coefficients needs only Σ z_n ∂/∂η_a and Σ z_n z_m ∂²/∂η_a∂η_b.
type moments struct {
	f     float64
	slots int
	pairs int
	g     []float64 // [n][a]
	m     []float64 // [pair(n,m)][a][b], a ≤ b
	t     []float64 // [a], scratch
}

// pair numbers the unordered pair (n, m).
func pair(n, m int) int {
	if n < m {
		n, m = m, n
	}
	return n*(n+1)/2 + m
}

// TravelTime is the time a fish took from one sighting (or its release) to the next.
type TravelTime struct {
	Class int       // index of the fish's class
	Z     []float64 // Design.Numbers values
	// From and To are the sites it went between.
	From, To int
	Days     float64 // > 0
	Weight   float64
	// Fresh: the travel time starts at the release, where a share of the fish may
	// rest first.
	Fresh bool
	// Within, if above 0: only travel times that ended within so many days were
	// taken; their probability is that of the time given that it is no more,
	// and, where rows do not work all the time (then it may be infinite), given
	// that some row worked when it ended.
	Within float64
	// At is the day it starts, where rows do not work all the time (see
	// [Layout.Working]). Rows between of which [Layout.Unknown] tells that they
	// may have been at rest are not counted as missed elsewhere.
	At float64
}

// alone tells whether the travel time can be added up with others.
func (t *TravelTime) alone(l *Layout) bool {
	return t.Fresh && l.Resting || l.crosses(t.From, t.To) || l.LawOf(t.From) != l.LawOf(t.To-1)
}

// travelTimeSum is all travel times of fish with the same drift and spread, in the sums
// their likelihood needs:
//
//	log f = log d − log σ − ½ log 2π − ³⁄₂ log t − (d²/t − 2dv + v²t)/(2σ²)
type travelTimeSum struct {
	class, law       int
	z                []float64
	n                float64
	fixed            float64 // Σ log d − ½ log 2π − ³⁄₂ log t
	quick, way, days float64 // Σ d²/t, Σ d, Σ t
}

// sumTravelTimes adds up the travel times of fish alike in drift and spread, in order, and
// gives those that cannot be added up.
func sumTravelTimes(d *Design, travelTimes []TravelTime) (out []travelTimeSum, alone []TravelTime) {
	l := d.Layout
	laws := l.LawCount()
	vary := make([]bool, d.Classes()*laws)
	for i := range vary {
		vary[i] = d.Varies(i/laws, l.Drift(i%laws)) || d.Varies(i/laws, l.Spread(i%laws))
	}
	index := make([]int, len(vary)) // class and law → its sum + 1
	for i := range travelTimes {
		t := &travelTimes[i]
		if t.alone(l) {
			alone = append(alone, *t)
			continue
		}
		law := l.LawOf(t.From)
		k := t.Class*laws + law
		j := index[k] - 1
		if j < 0 || vary[k] {
			j = len(out)
			out = append(out, travelTimeSum{class: t.Class, law: law, z: t.Z})
			index[k] = j + 1
		}
		s, km := &out[j], l.Distance(t.From, t.To)
		s.n += t.Weight
		s.fixed += t.Weight * (math.Log(km) - 0.5*math.Log(2*math.Pi) - 1.5*math.Log(t.Days))
		s.quick += t.Weight * km * km / t.Days
		s.way += t.Weight * km
		s.days += t.Weight * t.Days
	}
	return out, alone
}

// travelTime adds the log-density of t. On the scale of log v and log σ, with
// E = (Σd²/t − 2vΣd + v²Σt)/σ²:
//
//	F = fixed − n log σ − E/2
func (s *moments) travelTime(d *Design, x []float64, t *travelTimeSum, order int) {
	l := d.Layout
	a, b := l.Drift(t.law), l.Spread(t.law)
	v, sd := d.prob(x, t.class, a, t.z).P, d.prob(x, t.class, b, t.z).P
	w := 1 / (sd * sd)
	e := (t.quick - 2*v*t.way + v*v*t.days) * w
	s.f += t.fixed - t.n*math.Log(sd) - e/2
	if order < 1 {
		return
	}
	gv := v * (t.way - v*t.days) * w
	s.pairwise([]int{a, b}, []float64{gv, e - t.n}, []float64{gv - v*v*t.days*w, -2 * gv, 0, -2 * e}, t.z, 1, order)
}

// alone adds the log-density of a travel time that is not in the sums.
func (s *moments) alone(w *way, d *Design, x []float64, t *TravelTime, order int) {
	w.set(d, x, t.Class, t.Z, t.Fresh)
	w.logDensity(t.From, t.To, t.Days, order, &w.out)
	s.moved(&w.out, d, t.Z, t.Weight, order)
}

// given takes away the logarithm of the chance that t ended within its days.
func (s *moments) given(w *way, d *Design, x []float64, t *TravelTime, order int) {
	w.set(d, x, t.Class, t.Z, t.Fresh)
	w.logShare(t.From, t.To, t.Within, order, &w.out)
	s.moved(&w.out, d, t.Z, -t.Weight, order)
}

// moved adds m for fish with numbers z.
func (s *moments) moved(m *moving, d *Design, z []float64, weight float64, order int) {
	s.f += weight * m.f
	if order >= 1 {
		s.pairwise(d.Layout.movement(), m.g, m.h, z, weight, order)
	}
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
