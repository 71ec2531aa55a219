package cjs

import (
	"math"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/likelihood"
)

// standing is what is known of the factors of a quantity: whether some are held
// in the study, at 0 or 1, or free; and whether some are of fish between those
// that a number parts, which could be at either.
type standing struct{ held, bounded, free, between bool }

// heldAt tells whether slot a of class g is held in the study.
func (f *Fit) heldAt(g, a int) bool {
	return f.Problem.Design.Links[g][a].Kind == likelihood.Fixed
}

// about says how the factors of q stand.
func (f *Fit) about(q *likelihood.Quantity) (s standing) {
	z := maximum.Constant(f.Problem.Design.Numbers)
	for i := range q.Means {
		m := &q.Means[i]
		parts := false
		for _, c := range m.Factors {
			parts = parts || f.design.Parts(m.Class, c.Slot)
		}
		if !parts {
			f.aboutFish(m, z, &s)
			continue
		}
		for k := range m.N {
			for n := range m.Z {
				z[n+1] = m.Z[n][k]
			}
			f.aboutFish(m, z, &s)
		}
	}
	return s
}

// aboutFish adds how the factors of m stand for a fish with numbers z. Where one
// of them is 0 at its limit the others are of no account.
func (f *Fit) aboutFish(m *likelihood.Mean, z []float64, s *standing) {
	var one standing
	for _, c := range m.Factors {
		if f.heldAt(m.Class, c.Slot) {
			one.held = true
			continue
		}
		rate := f.design.AtLimit(m.Class, c.Slot, z)
		if rate == 0 && f.design.Links[m.Class][c.Slot].Kind != likelihood.Fixed {
			one.free = true
			continue
		}
		one.bounded = true
		if p := f.design.Prob(f.X, m.Class, c.Slot, z); c.Miss && p.Q == 0 || !c.Miss && p.P == 0 {
			s.bounded = true
			return
		}
		one.between = one.between || rate != 0 && math.Abs(rate) < 1-1e-6 && !f.settled(m.Class, c.Slot, z, rate)
	}
	s.held, s.bounded = s.held || one.held, s.bounded || one.bounded
	s.free, s.between = s.free || one.free, s.between || one.between
}

// settled tells whether a fish between those that a number parts is on the side
// it is on whatever the direction.
func (f *Fit) settled(class, slot int, z []float64, rate float64) bool {
	for _, e := range f.edges {
		if e.Settles(maximum.Row{Class: class, Slot: slot, Z: z, Out: math.Copysign(1, rate)}) {
			return true
		}
	}
	return false
}
