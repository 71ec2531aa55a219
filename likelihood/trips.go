package likelihood

import "math"

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
