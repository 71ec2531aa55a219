package cjs

import (
	"context"
	"math"

	"example.org/unseen/likelihood"
)

const (
	// maxIterations is far beyond what Newton's method with exact second
	// derivatives needs; only a likelihood without a maximum gets there.
	maxIterations = 200
	// closeSE: the iteration stops when the distance to the maximum,
	// √(gᵀA⁻¹g) in standard errors, is below this.
	closeSE = 1e-9
	// convergedSE: a distance that no printed digit can show.
	convergedSE = 1e-4
	// solveRidge keeps the equations solvable where a combination of
	// coefficients has no influence; small enough to cost no digits.
	solveRidge = 1e-9
	// longestStep bounds the change of a coefficient, in units that matter
	// on the logit scale, while far from the maximum.
	longestStep = 6
)

// climb is a maximisation by Newton's method with the exact Hessian, raised to
// positive definite where needed, and step halving.
type climb struct {
	x          []float64
	p          likelihood.Point
	distance   float64 // in standard errors
	iterations int
	err        error // the context's
}

// farthest is the largest coefficient. Where slopes are far out already, as
// those of a number that parts the fish are, steps may be as long.
func farthest(x []float64) float64 {
	most := 0.0
	for _, v := range x {
		most = max(most, math.Abs(v))
	}
	return most
}

// maximise climbs from x until the maximum, until stop says so (it is asked
// after each step and may be nil), or until nothing improves.
func maximise(ctx context.Context, o likelihood.Objective, x []float64, stop func(c *climb) bool) *climb {
	n := o.Columns()
	c := &climb{x: append([]float64(nil), x...), distance: math.Inf(1)}
	o.Eval(c.x, 2, &c.p)
	var trial likelihood.Point
	a := make([]float64, n*n)
	step := make([]float64, n)
	y := make([]float64, n)
	ridge := solveRidge
	for c.iterations = 0; c.iterations < maxIterations; c.iterations++ {
		if c.err = ctx.Err(); c.err != nil {
			return c
		}
		if n == 0 {
			c.distance = 0
			return c
		}
		for i, h := range c.p.H {
			a[i] = -h
		}
		used := likelihood.SolveRidge(a, c.p.G, n, ridge, step)
		var gain, longest float64
		for i, s := range step {
			gain += c.p.G[i] * s
			longest = max(longest, math.Abs(s))
		}
		if math.IsInf(used, 0) || math.IsNaN(gain) {
			return c
		}
		c.distance = math.Sqrt(max(0, gain))
		if c.distance < closeSE {
			return c
		}
		t := 1.0
		if most := max(longestStep, farthest(c.x)); longest > most {
			t = most / longest
		}
		ok := false
		for range 50 {
			for i := range y {
				y[i] = c.x[i] + t*step[i]
			}
			o.Eval(y, 2, &trial)
			// Rounding of F is about 1e-15 of it; near the maximum that is
			// more than the gain, and the step is right all the same.
			if trial.F >= c.p.F+1e-4*t*gain || c.distance < 1e-3 && trial.F >= c.p.F-1e-12*math.Abs(c.p.F) {
				ok = true
				break
			}
			t /= 2
		}
		if !ok {
			return c
		}
		c.x, y = y, c.x
		c.p, trial = trial, c.p
		if t < 0.1 {
			ridge = min(1, max(ridge*100, 1e-6))
		} else {
			ridge = max(solveRidge, ridge/100)
		}
		if stop != nil && stop(c) {
			return c
		}
	}
	return c
}
