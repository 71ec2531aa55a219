package likelihood

import (
	"context"
	"fmt"
	"math"

	"example.org/unseen/likelihood/linear"
)

const (
	// maxIterations is far beyond what Newton's method with exact second
	// derivatives needs; only a likelihood without a maximum gets there.
	maxIterations = 200
	// closeSE: the iteration stops when the distance to the maximum,
	// √(gᵀA⁻¹g) in standard errors, is below this.
	closeSE = 1e-9
	// ConvergedSE: a distance that no printed digit can show.
	ConvergedSE = 1e-4
	// StepRidge keeps the equations solvable where a combination of
	// coefficients has no influence; small enough to cost no digits.
	StepRidge = 1e-9
	// longestStep bounds the change of a coefficient, in units that matter
	// on the logit scale, while far from the maximum.
	longestStep = 6
)

// Climb is a maximisation by Newton's method with the exact Hessian, raised to
// positive definite where needed, and step halving.
type Climb struct {
	X          []float64 // coefficients where the search ended
	P          Point     // at X, with the Hessian
	Distance   float64   // from the maximum, in standard errors
	Iterations int
	// Err is the context's, or says that nothing could be climbed.
	Err error
}

// Farthest is the largest coefficient. Where slopes are far out already, as
// those of a number that parts the fish are, steps may be as long.
func Farthest(x []float64) float64 {
	most := 0.0
	for _, v := range x {
		most = max(most, math.Abs(v))
	}
	return most
}

// newton sets step to that of Newton's method at p, with room for a matrix in a,
// and returns the ridge it took.
func (p *Point) newton(arrow *linear.Arrow, a []float64, ridge float64, step []float64) (used float64) {
	if arrow == nil {
		for i, h := range p.H {
			a[i] = -h
		}
		return linear.SolveRidge(a, p.G, len(step), ridge, step)
	}
	for _, r := range arrow.Runs {
		to := a[r[0]:r[1]]
		for k, h := range p.H[r[0]:r[1]] {
			to[k] = -h
		}
	}
	used, _ = arrow.SolveRidge2(a, p.G, nil, ridge, step, nil)
	return used
}

// Maximise climbs from x until the maximum, until stop says so (it is asked
// after each step and may be nil), or until nothing improves.
func Maximise(ctx context.Context, o Objective, x []float64, stop func(c *Climb) bool) *Climb {
	c := &Climb{X: append([]float64(nil), x...), Distance: math.Inf(1)}
	if may, ok := o.(interface{ Err() error }); ok && may.Err() != nil {
		c.Err = may.Err()
		return c
	}
	if o == nil || o.Columns() != len(x) {
		c.Err = fmt.Errorf("%d coefficients to climb from, and no objective of so many", len(x))
		return c
	}
	n := o.Columns()
	var trial Point
	var arrow *linear.Arrow
	if o, ok := o.(*CJS); ok {
		c.P, trial, arrow = o.NewPoint(), o.NewPoint(), o.arrow
	}
	o.Eval(c.X, 2, &c.P)
	a := make([]float64, n*n)
	step := make([]float64, n)
	y := make([]float64, n)
	ridge := StepRidge
	for c.Iterations = 0; c.Iterations < maxIterations; c.Iterations++ {
		if c.Err = ctx.Err(); c.Err != nil {
			return c
		}
		if n == 0 {
			c.Distance = 0
			return c
		}
		used := c.P.newton(arrow, a, ridge, step)
		var gain, longest float64
		for i, s := range step {
			gain += c.P.G[i] * s
			longest = max(longest, math.Abs(s))
		}
		if math.IsInf(used, 0) || math.IsNaN(gain) {
			return c
		}
		c.Distance = math.Sqrt(max(0, gain))
		if c.Distance < closeSE {
			return c
		}
		t := 1.0
		if most := max(longestStep, Farthest(c.X)); longest > most {
			t = most / longest
		}
		ok := false
		for range 50 {
			for i := range y {
				y[i] = c.X[i] + t*step[i]
			}
			o.Eval(y, 2, &trial)
			// Rounding of F is about 1e-15 of it; near the maximum that is
			// more than the gain, and the step is right all the same.
			if trial.F >= c.P.F+1e-4*t*gain || c.Distance < 1e-3 && trial.F >= c.P.F-1e-12*math.Abs(c.P.F) {
				ok = true
				break
			}
			t /= 2
		}
		if !ok {
			return c
		}
		c.X, y = y, c.X
		c.P, trial = trial, c.P
		if t < 0.1 {
			ridge = min(1, max(ridge*100, 1e-6))
		} else {
			ridge = max(StepRidge, ridge/100)
		}
		if stop != nil && stop(c) {
			return c
		}
	}
	return c
}
