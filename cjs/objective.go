package cjs

import (
	"context"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// Objective is the log-likelihood that f maximises, as a function of the
// coefficients of Problem.Design: nothing is at a bound there. Each is for one
// goroutine at a time.
func (f *Fit) Objective() likelihood.Objective {
	return likelihood.NewCJS(f.Problem.Design, f.data)
}

// Starts are the starts the search has without [Options.Start], the first of
// them near the closed form.
func (f *Fit) Starts() [][]float64 {
	return append([][]float64{maximum.StartValues(f.Problem)}, maximum.OtherStarts(f.Problem)...)
}

// Quantities are what [Fit.Watched] are the values of, in that order, as
// functions of the coefficients of Problem.Design; fish that differ in their
// numbers each have a part in what passed.
func (f *Fit) Quantities() []likelihood.Quantity {
	fresh, _ := f.fishGroups()
	var out []likelihood.Quantity
	f.watch(func(w Watched) {
		if w.Kind != "passed" {
			out = append(out, f.quantity(w))
			return
		}
		var gr group
		for g := range f.Problem.Classes {
			if f.belongs(g, w.Of) {
				gr.classes = append(gr.classes, g)
			}
		}
		out = append(out, *meanQuantity(&gr, fresh, w.Site, f.above(w.Site)))
	})
	return out
}

// Scatter are n starts strewn at random over what p makes possible: every
// survival and detection has a level of its own, the last of both included,
// and slopes rise or fall. The same p, n and seed give the same starts, and
// the first of many are those of few.
func Scatter(p *model.Problem, n int, seed uint64) [][]float64 { return maximum.Scatter(p, n, seed) }

// Maximum is where a climb from one start ended.
type Maximum struct {
	X     []float64        // coefficients on the link scale, in the order of the design's columns
	Point likelihood.Point // at X, with the Hessian
	// Distance to the maximum, in standard errors.
	Distance   float64
	Iterations int
	Verdict    Verdict
}

// Maximise climbs o from x by Newton's method with the exact Hessian, and
// judges where it ended. The error is ctx's.
func Maximise(ctx context.Context, o likelihood.Objective, x []float64) (*Maximum, error) {
	c := likelihood.Maximise(ctx, o, x, nil)
	m := &Maximum{X: c.X, Point: c.P, Distance: c.Distance, Iterations: c.Iterations, Verdict: NotConverged}
	if c.Distance < likelihood.ConvergedSE {
		m.Verdict = Converged
	}
	return m, c.Err
}
