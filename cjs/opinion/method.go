package opinion

import (
	"context"
	"fmt"

	"gonum.org/v1/gonum/optimize"

	"example.org/unseen/cjs"
	"example.org/unseen/likelihood"
)

// method is one optimiser and how it is bounded.
type method struct {
	name string
	// order of derivatives it uses.
	order int
	// make is a new one, to begin for the first time or again.
	make func(again bool) optimize.Method
	// most evaluations of one run, for so many coefficients.
	most func(coefficients int) int
	// patience: a run ends after so many steps without gain.
	patience func(coefficients int) int
	// gain: a step that gains less in ln L is one without gain.
	gain float64
	// again: a run is begun again where it ended until that gains nothing.
	again bool
	// widest is the largest number of coefficients it is used for, heaviest
	// the largest number of fish kept one by one; 0 means any.
	widest, heaviest int
}

func constant(n int) func(int) int { return func(int) int { return n } }

func times(n int) func(int) int { return func(k int) int { return n * max(2, k) } }

var methods = []method{
	{name: "Newton", order: 2, make: func(bool) optimize.Method { return &optimize.Newton{} }, most: constant(1000), patience: constant(20), gain: 1e-9},
	{name: "BFGS", order: 1, make: func(bool) optimize.Method { return &optimize.BFGS{} }, most: constant(5000), patience: constant(50), gain: 1e-9},
	// Without derivatives a simplex needs hundreds of evaluations a
	// coefficient, and can fall flat short of the maximum: it begins again.
	{name: "Nelder–Mead", order: 0, make: simplex, most: times(1000), patience: times(10), gain: 1e-7, again: true, widest: 30, heaviest: 50_000},
}

// simplex is a Nelder–Mead of a standard error's size, of less once it is near.
func simplex(again bool) optimize.Method {
	if again {
		return &optimize.NelderMead{SimplexSize: 0.2}
	}
	return &optimize.NelderMead{SimplexSize: 1}
}

// leaveOut says why the method is not used for f, or is "".
func (m *method) leaveOut(f *cjs.Fit) string {
	fish := 0
	for i := range f.Problem.Data.HistoryGroups {
		fish += f.Problem.Data.HistoryGroups[i].N
	}
	switch {
	case f.Parameters == 0:
		return "the model has no coefficients"
	case m.widest > 0 && f.Parameters > m.widest:
		return fmt.Sprintf("with more than %d coefficients it does not get to the maximum in reasonable time", m.widest)
	case m.heaviest > 0 && fish > m.heaviest:
		return "with so many fish one by one it takes too long"
	}
	return ""
}

// flat is the gradient, scaled as in scales, below which a run ends. A
// probability that runs to its bound has then as little to gain.
const flat = 1e-7

// run is where one run ended.
type run struct {
	x             []float64 // nil where it came to no value
	logLikelihood float64
	evaluations   int
}

// value is q where the run ended.
func (r *run) value(f *cjs.Fit, q *likelihood.Quantity) float64 {
	var p likelihood.Point
	q.Eval(f.Problem.Design, r.x, 0, &p)
	return p.F
}

// climb runs the method from x. What gonum says of how a run ended is left
// aside: where it ended is judged by its log-likelihood.
func (m *method) climb(ctx context.Context, o likelihood.Objective, x, scale []float64) *run {
	n := len(x)
	g := newGuarded(ctx, o, scale, m.order)
	u := make([]float64, n)
	for i := range u {
		u[i] = x[i] / scale[i]
	}
	for most, again := m.most(n), false; ; again = true {
		before := g.best
		settings := &optimize.Settings{
			GradientThreshold: flat,
			FuncEvaluations:   most - g.evaluations,
			Converger:         &optimize.FunctionConverge{Absolute: m.gain, Iterations: m.patience(n)},
		}
		optimize.Minimize(g.problem(), u, settings, m.make(again))
		if !m.again || g.bestX == nil || g.err != nil || ctx.Err() != nil || g.evaluations >= most || !(g.best < before-m.gain) {
			break
		}
		for i := range u {
			u[i] = g.bestX[i] / scale[i]
		}
	}
	return &run{x: g.bestX, logLikelihood: -g.best, evaluations: g.evaluations}
}
