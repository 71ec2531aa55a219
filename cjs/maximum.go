package cjs

import (
	"context"

	"example.org/unseen/likelihood"
)

// Maximum is where a climb from one start ended.
type Maximum struct {
	X     []float64
	Point likelihood.Point // at X, with the Hessian
	// Distance to the maximum, in standard errors.
	Distance   float64
	Iterations int
	Verdict    Verdict
}

// Maximise climbs o from x by Newton's method with the exact Hessian, and
// judges where it ended. The error is ctx's.
func Maximise(ctx context.Context, o likelihood.Objective, x []float64) (*Maximum, error) {
	c := maximise(ctx, o, x, nil)
	m := &Maximum{X: c.x, Point: c.p, Distance: c.distance, Iterations: c.iterations, Verdict: NotConverged}
	if c.distance < convergedSE {
		m.Verdict = Converged
	}
	return m, c.err
}
