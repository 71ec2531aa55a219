package model

import (
	"math"
)

// ClosedForm is the estimates that can be had without iteration from the
// next-seen table of fish alike, when every reach and site has its own value:
//
//	M_i = m_i + R_i z_i / r_i,  S_i = M_{i+1} / (M_i − m_i + R_i),  p_i = m_i / M_i
//
// with m_i seen at i, R_i released there, r_i of these seen again, z_i known to
// have passed i unseen (Seber 1982, eq. 5.6–5.8; Burnham et al. 1987). Values
// are not bounded: survival may exceed 1. NaN where nothing was counted.
type ClosedForm struct {
	// Survival of each reach but the last, whose value is NaN.
	Survival []float64
	// Detection of each site but the first and the last.
	Detection []float64
	// Last is survival × detection of the last reach and site.
	Last float64
}

// NewClosedForm computes the closed form of a tally.
func NewClosedForm(t *Tally) ClosedForm {
	if t == nil {
		t = &Tally{}
	}
	n := min(len(t.New), len(t.Next), len(t.Seen), len(t.Released), len(t.Alive)+1)
	c := ClosedForm{Survival: nans(max(n-1, 0)), Detection: nans(n), Last: math.NaN()}
	if n < 2 {
		return c
	}
	passed := make([]float64, n) // M_i
	again := make([]float64, n)  // r_i
	for i := range n {
		for _, m := range t.Next[i] {
			again[i] += float64(m)
		}
	}
	for i := 1; i < n-1; i++ {
		m, z := float64(t.Seen[i]), float64(t.Alive[i-1]-t.Seen[i])
		passed[i] = m
		if z > 0 {
			passed[i] += float64(t.Released[i]) * z / again[i]
		}
		if passed[i] > 0 {
			c.Detection[i] = m / passed[i]
		}
	}
	for i := range n - 2 {
		start := float64(t.Released[i])
		if i > 0 {
			start += passed[i] - float64(t.Seen[i])
		}
		if start > 0 && !math.IsInf(start, 0) && !math.IsInf(passed[i+1], 0) {
			c.Survival[i] = passed[i+1] / start
		}
	}
	if t.Released[n-2] > 0 {
		c.Last = again[n-2] / float64(t.Released[n-2])
	}
	for i, v := range c.Detection {
		if math.IsInf(passed[i], 0) {
			v = math.NaN()
		}
		c.Detection[i] = v
	}
	return c
}

func nans(n int) []float64 {
	v := make([]float64, max(0, n))
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}
