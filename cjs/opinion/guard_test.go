package opinion

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// rough is an objective of two coefficients made by hand, with its derivatives.
type rough struct {
	eval func(x []float64, p *likelihood.Point)
	n    int
}

func (r *rough) Columns() int { return 2 }

func (r *rough) Eval(x []float64, order int, p *likelihood.Point) {
	r.n++
	p.G, p.H = make([]float64, 2), make([]float64, 4)
	r.eval(x, p)
}

// hill has its top, 0, at (1, −2), and two coefficients that go together.
func hill(x []float64, p *likelihood.Point) {
	a, b := x[0]-1, x[1]+2
	p.F = -(a*a + 50*b*b + a*b)
	p.G[0], p.G[1] = -(2*a + b), -(100*b + a)
	p.H[0], p.H[1], p.H[2], p.H[3] = -2, -1, -1, -100
}

var unit = []float64{1, 1}

func TestMethodsClimb(t *testing.T) {
	for _, m := range methods {
		for _, scale := range [][]float64{unit, {0.7, 0.07}} {
			r := &rough{eval: hill}
			end := m.climb(context.Background(), r, []float64{-3, 4}, scale)
			require.NotNil(t, end.x, m.name)
			// The gain at which a run ends is 1e-7 or less.
			assert.InDelta(t, 0, end.logLikelihood, 1e-6, m.name)
			assert.InDelta(t, 1, end.x[0], 1e-3, m.name)
			assert.InDelta(t, -2, end.x[1], 1e-3, m.name)
			assert.Equal(t, r.n, end.evaluations, m.name)
		}
	}
}

// TestMethodsGuarded: what has no value, no gradient or no second derivatives,
// at the start or on the way, ends a run or is walked around, and nothing
// panics, whatever the method.
func TestMethodsGuarded(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	none := func(v float64) func(x []float64, p *likelihood.Point) {
		return func(x []float64, p *likelihood.Point) { p.F = v }
	}
	cases := []struct {
		name string
		eval func(x []float64, p *likelihood.Point)
		// found: the top is found by all methods; begun: the start has a value.
		found, begun bool
		// once: methods that use derivatives of this order end at the first.
		once int
	}{
		{"nowhere a value", none(nan), false, false, 3},
		{"nowhere possible", none(-inf), false, false, 3},
		{"certain beyond measure", none(inf), false, false, 3},
		{"flat", none(-3), false, true, 3},
		{"no value beyond a wall", func(x []float64, p *likelihood.Point) {
			if hill(x, p); x[0] < -3.5 || x[0] > 1.5 {
				p.F, p.G[0], p.H[0] = nan, nan, nan
			}
		}, true, true, 3},
		{"no gradient", func(x []float64, p *likelihood.Point) { hill(x, p); p.G[1] = nan }, false, true, 1},
		{"endless gradient", func(x []float64, p *likelihood.Point) { hill(x, p); p.G[0] = inf }, false, true, 1},
		{"no gradient on the way", func(x []float64, p *likelihood.Point) {
			if hill(x, p); x[1] < 3 {
				p.G[0], p.H[3] = nan, nan
			}
		}, false, true, 3},
		{"no second derivatives", func(x []float64, p *likelihood.Point) { hill(x, p); p.H[1], p.H[2] = nan, inf }, false, true, 2},
		{"endless second derivatives", func(x []float64, p *likelihood.Point) { hill(x, p); p.H[0] = inf }, false, true, 2},
		{"rises for ever", func(x []float64, p *likelihood.Point) { p.F, p.G[0], p.G[1] = x[0]+x[1], 1, 1 }, false, true, 3},
		{"rises ever faster", func(x []float64, p *likelihood.Point) {
			p.F = math.Exp(x[0])
			p.G[0], p.H[0] = p.F, p.F
		}, false, true, 3},
		{"a saddle", func(x []float64, p *likelihood.Point) {
			p.F = x[0]*x[0] - x[1]*x[1]
			p.G[0], p.G[1], p.H[0], p.H[3] = 2*x[0], -2*x[1], 2, -2
		}, false, true, 3},
	}
	for _, c := range cases {
		for _, m := range methods {
			r := &rough{eval: c.eval}
			end := m.climb(context.Background(), r, []float64{-3, 4}, unit)
			assert.Equal(t, c.begun, end.x != nil, "%s: %s", c.name, m.name)
			assert.LessOrEqual(t, r.n, m.most(2)+4, "%s: %s", c.name, m.name)
			if m.order >= c.once {
				assert.Equal(t, 1, r.n, "%s: %s", c.name, m.name)
			}
			if c.found {
				assert.InDelta(t, 0, end.logLikelihood, 1e-6, "%s: %s", c.name, m.name)
			}
			if c.begun {
				assert.False(t, math.IsNaN(end.logLikelihood) || math.IsInf(end.logLikelihood, 0), "%s: %s", c.name, m.name)
			}
		}
	}
}

// TestMethodsHeedTheContext: not one evaluation more.
func TestMethodsHeedTheContext(t *testing.T) {
	for _, m := range methods {
		ctx, cancel := context.WithCancel(context.Background())
		r := &rough{}
		r.eval = func(x []float64, p *likelihood.Point) {
			if hill(x, p); r.n == 2 {
				cancel()
			}
		}
		m.climb(ctx, r, []float64{-3, 4}, unit)
		assert.Equal(t, 2, r.n, m.name)
	}
}

// TestMethodsAreBounded: where every evaluation is better than the last a
// simplex would go on for ever.
func TestMethodsAreBounded(t *testing.T) {
	r := &rough{}
	r.eval = func(x []float64, p *likelihood.Point) { p.F = float64(r.n) }
	m := &methods[2]
	end := m.climb(context.Background(), r, []float64{0, 0}, unit)
	// Points too far out for a value count for the method alone.
	assert.LessOrEqual(t, r.n, m.most(2))
	assert.Greater(t, r.n, m.most(2)/2)
	assert.Equal(t, float64(r.n), end.logLikelihood)
}

// TestGather: of five runs by hand.
func TestGather(t *testing.T) {
	at := func(method int, logLikelihood float64) task {
		return task{method: method, end: &run{x: unit, logLikelihood: logLikelihood, evaluations: 10}}
	}
	nan := math.NaN()
	r := &Result{Fit: 9, Best: 9, Methods: []Method{{Best: nan, Worst: nan}, {Best: nan, Worst: nan}}}
	r.gather([]task{at(0, -5), at(0, -6), at(0, -4), {method: 1, end: &run{evaluations: 3}}, at(1, -7)})
	assert.Equal(t, 8.0, r.Best)
	assert.Equal(t, 14.0, r.Worst())
	assert.Equal(t, []Method{
		{Starts: 3, Best: 8, Worst: 12, Evaluations: 30},
		{Starts: 2, Failed: 1, Best: 14, Worst: 14, Evaluations: 13},
	}, r.Methods)
	assert.True(t, r.Better())
}

// TestGuardedDerivatives: in the scaled coefficients too the derivatives are
// those of the value, by central differences (error about 1e-9 of them).
func TestGuardedDerivatives(t *testing.T) {
	scale := []float64{0.5, 3}
	g := newGuarded(context.Background(), &rough{eval: hill}, scale, 2)
	u := []float64{0.3, -0.9}
	grad := make([]float64, 2)
	hess := mat.NewSymDense(2, nil)
	at := func(i int, step float64) (float64, []float64) {
		v := append([]float64(nil), u...)
		v[i] += step
		d := make([]float64, 2)
		g.gradient(d, v)
		return g.function(v), d
	}
	const h = 1e-4
	for i := range u {
		up, gradUp := at(i, h)
		down, gradDown := at(i, -h)
		g.gradient(grad, u)
		g.hessian(hess, u)
		assert.InDelta(t, (up-down)/(2*h), grad[i], 1e-6)
		for j := range u {
			assert.InDelta(t, (gradUp[j]-gradDown[j])/(2*h), hess.At(i, j), 1e-6)
		}
	}
	g.of.Eval([]float64{u[0] * scale[0], u[1] * scale[1]}, 0, &g.point)
	assert.Equal(t, -g.point.F, g.function(u))
}

// TestLeaveOut: a simplex in many dimensions, or with a million fish, would
// take hours; that is said.
func TestLeaveOut(t *testing.T) {
	simplex := &methods[2]
	with := func(parameters, fish int) *cjs.Fit {
		return &cjs.Fit{Parameters: parameters, Problem: &model.Problem{Data: &likelihood.Data{HistoryGroups: []likelihood.HistoryGroup{{N: fish / 2}, {N: fish - fish/2}}}}}
	}
	assert.Empty(t, simplex.leaveOut(with(30, 50_000)))
	assert.Contains(t, simplex.leaveOut(with(31, 0)), "more than 30 coefficients")
	assert.Contains(t, simplex.leaveOut(with(5, 50_001)), "so many fish")
	for i := range methods[:2] {
		assert.Empty(t, methods[i].leaveOut(with(500, 1_000_000)))
		assert.NotEmpty(t, methods[i].leaveOut(with(0, 10)))
	}
}
