package opinion

import (
	"context"
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"example.org/unseen/cjs"
	"example.org/unseen/likelihood"
)

// scales are what a coefficient is divided by before an optimiser sees it: its
// standard error with all others known, so that a step of one means as much
// in each. 1 where the fit knows nothing of it, or less than that.
func scales(f *cjs.Fit) []float64 {
	out := make([]float64, f.Parameters)
	for i := range out {
		out[i] = 1
		if v := f.Information[i*f.Parameters+i]; v > 1 {
			out[i] = 1 / math.Sqrt(v)
		}
	}
	return out
}

// guarded is minus a log-likelihood as the optimisers want it: scaled, +Inf
// where there is no value, and ended rather than given a derivative that does
// not exist, of which some of their steps would panic. It remembers the best
// point met.
type guarded struct {
	ctx   context.Context
	of    likelihood.Objective
	scale []float64
	// order of derivatives every evaluation has: one pass serves the value
	// and the derivatives asked for after it.
	order int

	at          []float64 // scaled, of the last evaluation
	x           []float64 // the same, as the design has it
	point       likelihood.Point
	value       float64 // minus the log-likelihood, or +Inf
	evaluations int
	err         error // that ends the run
	best        float64
	bestX       []float64
}

func newGuarded(ctx context.Context, of likelihood.Objective, scale []float64, order int) *guarded {
	return &guarded{ctx: ctx, of: of, scale: scale, order: order, x: make([]float64, len(scale)), best: math.Inf(1)}
}

// problem is g for gonum.
func (g *guarded) problem() optimize.Problem {
	return optimize.Problem{Func: g.function, Grad: g.gradient, Hess: g.hessian, Status: g.status}
}

// none is what is no number to go on with: sums of its squares must exist.
func none(v float64) bool { return !(math.Abs(v) < 1e100) }

func (g *guarded) evaluate(u []float64) {
	if g.at != nil && same(g.at, u) {
		return
	}
	g.at = append(g.at[:0], u...)
	g.value = math.Inf(1)
	for i, v := range u {
		if none(v) {
			return
		}
		g.x[i] = v * g.scale[i]
	}
	g.evaluations++
	g.of.Eval(g.x, g.order, &g.point)
	if v := -g.point.F; !none(v) {
		g.value = v
		if v < g.best {
			g.best = v
			g.bestX = append(g.bestX[:0], g.x...)
		}
	}
}

func same(a, b []float64) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

func (g *guarded) function(u []float64) float64 {
	g.evaluate(u)
	return g.value
}

// errNoDerivative ends a run.
var errNoDerivative = errors.New("the log-likelihood has no derivative here")

// known tells whether the last point has the derivatives; if not, the run ends.
func (g *guarded) known(derivatives []float64) bool {
	ok := !math.IsInf(g.value, 1)
	for _, v := range derivatives {
		ok = ok && !none(v)
	}
	if !ok {
		g.err = errNoDerivative
	}
	return ok
}

func (g *guarded) gradient(into, u []float64) {
	g.evaluate(u)
	clear(into)
	if g.known(g.point.G) {
		for i, v := range g.point.G {
			into[i] = -v * g.scale[i]
		}
	}
}

func (g *guarded) hessian(into *mat.SymDense, u []float64) {
	g.evaluate(u)
	n := len(u)
	ok := g.known(g.point.H)
	for i := range n {
		for j := i; j < n; j++ {
			switch {
			case ok:
				into.SetSym(i, j, -g.point.H[i*n+j]*g.scale[i]*g.scale[j])
			case i == j:
				into.SetSym(i, j, 1)
			default:
				into.SetSym(i, j, 0)
			}
		}
	}
}

// status is asked by gonum after every evaluation.
func (g *guarded) status() (optimize.Status, error) {
	if err := g.ctx.Err(); err != nil {
		return optimize.Failure, err
	}
	if g.err != nil {
		return optimize.Failure, g.err
	}
	return optimize.NotTerminated, nil
}
