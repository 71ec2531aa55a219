package cjs

import (
	"context"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/likelihood"
)

// profiler follows the maximum of the log-likelihood under the constraint that
// a quantity has a given value.
type profiler struct {
	fit      *Fit
	quantity *likelihood.Quantity
	design   *likelihood.Design // without bounds
	cjs      *likelihood.CJS
	target   float64   // half the chi-square quantile, inflated
	end      []float64 // coefficients where the last limit was found

	// Scratch of at.
	x, y, u, w, a []float64
	points        [4]likelihood.Point
}

// profileInterval sets the interval of e, an estimate of q, to where −2 ln L
// rises by the chi-square quantile above its minimum with q given and all else
// free (Venzon & Moolgavkar 1988 describe the same limits). A limit that is
// not reached is 0 or 1: the end is open. f.ends are the coefficients at the
// limits, nil where there was nothing to look for.
func (f *Fit) profileInterval(ctx context.Context, q *likelihood.Quantity, e Estimate) (Estimate, error) {
	pr := &profiler{fit: f, quantity: q, design: f.Problem.Design, cjs: likelihood.NewCJS(f.Problem.Design, f.data)}
	pr.target = distuv.ChiSquared{K: 1}.Quantile(f.Options.Level) / 2 * f.Options.VarianceInflation
	x := f.X
	if len(f.limits) > 0 {
		x = along(f.Problem.Design, x, f.limits, f.moved, 10)
	}
	e.Method = "profile"
	f.ends = [2][]float64{}
	var err error
	if e.Value <= 0 {
		e.Low = e.Value
	} else if e.Low, err = pr.limit(ctx, x, e, -1); err != nil {
		return e, err
	} else {
		f.ends[0] = pr.end
	}
	if e.Value >= 1 && f.Problem.Spec.SurvivalLink != "linear" {
		e.High = e.Value
	} else if e.High, err = pr.limit(ctx, x, e, 1); err != nil {
		return e, err
	} else {
		f.ends[1] = pr.end
	}
	return e, nil
}

// openEnd: a logit beyond this is a probability that cannot be told from 0 or 1.
const openEnd = 20

// limit finds the limit on one side of the estimate, on the logit scale.
func (pr *profiler) limit(ctx context.Context, x []float64, e Estimate, side float64) (float64, error) {
	f := pr.fit
	top := f.LogLikelihood
	logit := func(v float64) float64 { return likelihood.LogitOf(min(1-1e-12, max(1e-12, v))) }
	centre := logit(e.Value)
	step := 1.0
	if e.SE > 0 && e.Value > 0 && e.Value < 1 {
		step = f.z * e.SE / (e.Value * (1 - e.Value))
	} else {
		// From the bound inwards: start where one fish in a thousand differs.
		centre = -side * 7
	}
	step = min(step, 3)
	// fall is √(top − F), nearly straight in t, less that of the limit; slope
	// is its derivative, from the multiplier of the constraint.
	y := append([]float64(nil), x...)
	want := math.Sqrt(pr.target)
	fall := func(t float64) (v, slope float64, err error) {
		at, mu, z, err := pr.at(ctx, y, t)
		if err != nil {
			return 0, 0, err
		}
		y, pr.end = z, z
		if at > top+1e-6 && f.accused == nil {
			f.accused = append([]float64(nil), z...)
		}
		root := math.Sqrt(max(0, top-at))
		return root - want, -mu / (2 * root), nil
	}
	// inner is a point above the limit's likelihood, outer (once found) one
	// below; Newton's method between them.
	inner, outer := centre, math.NaN()
	t := centre + side*step
	for range 60 {
		if math.Abs(t) > openEnd {
			if side < 0 {
				return 0, nil
			}
			return 1, nil
		}
		v, slope, err := fall(t)
		if err != nil {
			return math.NaN(), err
		}
		if v > 0 {
			outer = t
		} else {
			inner = t
		}
		if math.Abs(v) < 1e-9 || !math.IsNaN(outer) && math.Abs(outer-inner) < 1e-10 {
			break
		}
		next := t - v/slope
		open := math.IsNaN(outer)
		switch {
		case open && !((next-t)*side > 0.1*step):
			// Still above the limit, and the slope says little: go on in
			// growing strides.
			next = t + side*step
			step *= 2
		case open && (next-t)*side > 4*step:
			next = t + side*4*step
		case !open && !((next-inner)*(next-outer) < 0):
			next = (inner + outer) / 2
		}
		t = next
	}
	p, _ := likelihood.Expit(t)
	return p, nil
}

// at maximises the log-likelihood with the logit of the quantity at t, by
// Newton's method on the Lagrangian, from x. mu is the multiplier of the
// constraint: the slope of the maximum in t.
func (pr *profiler) at(ctx context.Context, x []float64, t float64) (f, mu float64, at []float64, err error) {
	n := len(x)
	if pr.a == nil {
		pr.x, pr.y, pr.u, pr.w = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		pr.a = make([]float64, n*n)
	}
	y, a, u, w := pr.y, pr.a, pr.u, pr.w
	copy(pr.x, x)
	x = pr.x
	p, q, tp, tq := &pr.points[0], &pr.points[1], &pr.points[2], &pr.points[3]
	defer func() { at = append([]float64(nil), x...) }()
	eval := func(x []float64, p, q *likelihood.Point) {
		pr.cjs.Eval(x, 2, p)
		pr.quantity.Eval(pr.design, x, 2, q)
		onLogit(q, n)
	}
	eval(x, p, q)
	penalty := 1.0
	ridge := solveRidge
	for range maxIterations {
		if err := ctx.Err(); err != nil {
			return 0, 0, nil, err
		}
		var size, slope float64
		for i := range a {
			a[i] = -p.H[i] + mu*q.H[i]
		}
		for i := range n {
			size += math.Abs(a[i*n+i])
			slope += q.G[i] * q.G[i]
		}
		// Curvature along the constraint's gradient changes nothing but the
		// multiplier, and makes the matrix positive definite where it is so
		// along the constraint.
		stiff := size / slope
		for i, gi := range q.G {
			for j, gj := range q.G {
				a[i*n+j] += stiff * gi * gj
			}
		}
		used := likelihood.SolveRidge2(a, p.G, q.G, n, ridge, u, w)
		var gu, gw float64
		for i := range n {
			gu += q.G[i] * u[i]
			gw += q.G[i] * w[i]
		}
		if math.IsInf(used, 0) || !(gw > 0) {
			return math.Inf(-1), mu, nil, nil
		}
		mu = (gu - (t - q.F)) / gw
		var longest, gain float64
		for i := range n {
			u[i] -= mu * w[i]
			longest = max(longest, math.Abs(u[i]))
		}
		mu += stiff * (t - q.F)
		for i := range n {
			gain += (p.G[i] - mu*q.G[i]) * u[i]
		}
		miss := math.Abs(q.F - t)
		// gain is twice the rise still to be had: far below what moves a limit.
		if miss < 1e-9 && math.Abs(gain) < 1e-8 {
			return p.F, mu, nil, nil
		}
		penalty = max(penalty, 2*math.Abs(mu))
		merit := p.F - penalty*miss
		s := 1.0
		if longest > 3 {
			s = 3 / longest
		}
		ok := false
		for range 40 {
			for i := range n {
				y[i] = x[i] + s*u[i]
			}
			eval(y, tp, tq)
			if m := tp.F - penalty*math.Abs(tq.F-t); m >= merit-1e-11*math.Abs(p.F) {
				ok = true
				break
			}
			s /= 2
		}
		if !ok {
			return p.F, mu, nil, nil
		}
		x, y = y, x
		p, tp = tp, p
		q, tq = tq, q
		if s < 0.1 {
			ridge = min(1, max(100*ridge, 1e-6))
		} else {
			ridge = max(solveRidge, ridge/100)
		}
	}
	return p.F, mu, nil, nil
}

// onLogit turns a probability with its derivatives into its logit.
func onLogit(q *likelihood.Point, n int) {
	v := q.F
	d := 1 / (v * (1 - v))
	dd := (2*v - 1) * d * d
	for i := range n {
		for j := range n {
			q.H[i*n+j] = d*q.H[i*n+j] + dd*q.G[i]*q.G[j]
		}
	}
	for i := range n {
		q.G[i] *= d
	}
	q.F = likelihood.LogitOf(v)
}

func (f *Fit) warnAccused() {
	if f.accused != nil {
		f.warning(WarnProfileBeats, "fit", "While an interval was computed a better fit was found than the one the search had ended at. The model was fitted again from there; more than one maximum exists, so report it with care.")
		f.byWeight()
	}
}
