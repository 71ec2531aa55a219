package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/cjs/internal/maximum"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/likelihood"
)

// profiler finds where the maximum of the log-likelihood with a quantity given,
// all else free, falls to need: the ends of the quantity's interval.
type profiler struct {
	fit  *Fit
	tied *tied
	need float64
	top  float64 // the log-likelihood at its maximum
	// start is a point inside the interval, with no coefficient at infinity.
	start []float64
	// held is the same with the limits of the fit kept; nil where it has none.
	held *tied
}

const (
	// openEnd: a logit beyond this is a probability that cannot be told from
	// 0 or 1.
	openEnd = 12
	// mostPressed bounds how often one end is sought the slow way.
	mostPressed = 8
	// mostMaxima bounds the constrained maxima sought for one end.
	mostMaxima = 60
	// limitGap: at a limit the log-likelihood is this near to what it must be.
	limitGap = 1e-8
	// roughGap is as near as can be had where the maximum lies at infinity.
	roughGap = 1e-6
	// restGain: at a constrained maximum twice the rise still to be had is
	// below this.
	restGain = 1e-8
)

// profileInterval sets the interval of e, an estimate of q, to where −2 ln L
// rises by the chi-square quantile above its minimum with q given and all else
// free (Venzon & Moolgavkar 1988). An end that is not reached, whatever the
// value, is 0 or 1: the interval is open there. An end that could not be found is NaN.
// f.ends are the coefficients at the limits, nil where there are none.
func (f *Fit) profileInterval(ctx context.Context, q *likelihood.Quantity, e Estimate) (Estimate, error) {
	e.Method = "profile"
	key := q.Key(f.Problem.Design)
	if known, ok := f.profiled[key]; ok && key != "" {
		e.Low, e.High, f.ends = known.low, known.high, known.ends
		return e, nil
	}
	f.ends = [2][]float64{}
	of, apart := f, (*component)(nil)
	if p, ok := f.componentOf(q); ok {
		of, apart = p.Fit, p
	}
	e, ends, err := of.limitsOf(ctx, q, e)
	if apart != nil {
		if of.accused != nil && f.accused == nil {
			f.accused = apart.whole(f, of.accused)
		}
		ends = [2][]float64{apart.whole(f, ends[0]), apart.whole(f, ends[1])}
	}
	if err != nil || f.accused != nil && f.mayTry() {
		return e, err // or the fit will be made again
	}
	f.ends = ends
	if f.profiled == nil {
		f.profiled = map[string]profiled{}
	}
	f.profiled[key] = profiled{e.Low, e.High, ends}
	return e, nil
}

// limitsOf are the limits of q, with the coefficients at each.
func (f *Fit) limitsOf(ctx context.Context, q *likelihood.Quantity, e Estimate) (_ Estimate, ends [2][]float64, err error) {
	pr, err := f.profiler(ctx, q)
	if err != nil || f.accused != nil && f.mayTry() {
		return e, ends, err
	}
	if e.Low, ends[0], err = pr.end(ctx, e.Value, -1); err != nil {
		return e, ends, err
	}
	e.High, ends[1], err = pr.end(ctx, e.Value, 1)
	return e, ends, err
}

// profiler seeks the limits of q.
func (f *Fit) profiler(ctx context.Context, q *likelihood.Quantity) (*profiler, error) {
	pr := &profiler{fit: f, tied: newTied(f.free(), q, f.isLinear(q)), top: f.LogLikelihood, need: f.need()}
	pr.tied.known = slices.Clip(f.rivals)
	if f.ample() {
		pr.tied.split(f.components().columns)
	}
	var err error
	if pr.start, err = f.inside(ctx); err != nil {
		return nil, err
	}
	if len(f.limits) == 0 {
		pr.tied.known = append(pr.tied.known, f.atPeak())
		return pr, nil
	}
	pr.held = pr.tied.under(f.atLimits(), f.limits, f.moved)
	pr.held.known = []*known{f.atPeak()}
	return pr, nil
}

// profiled is the interval of a quantity found before: the detection of a site
// is that of every cohort too.
type profiled struct {
	low, high float64
	ends      [2][]float64
}

// need is the log-likelihood at the ends of profile intervals.
func (f *Fit) need() float64 {
	return f.LogLikelihood - distuv.ChiSquared{K: 1}.Quantile(f.Options.Level)/2*f.Options.VarianceInflation
}

// isLinear tells whether a factor of q has a linear link, which can lead out of
// [0, 1]: then there is no logit to work on.
func (f *Fit) isLinear(q *likelihood.Quantity) bool {
	for i := range q.Means {
		for _, c := range q.Means[i].Factors {
			if f.Problem.Design.Links[q.Means[i].Class][c.Slot].Kind == likelihood.Linear {
				return true
			}
		}
	}
	return false
}

// inside is a point whose log-likelihood is above that of all limits and at which no
// coefficient is far out: the maximum, or where coefficients go to infinity that
// of the log-likelihood less a small square of them. It is found once a fit.
func (f *Fit) inside(ctx context.Context) ([]float64, error) {
	if len(f.limits) == 0 {
		return f.X, nil
	}
	if f.inner != nil {
		return f.inner, nil
	}
	o, need := f.free(), f.need()
	from := maximum.Along(f.Problem.Design, f.X, f.limits, f.moved, maximum.FarEnough)
	var p likelihood.Point
	for _, weight := range []float64{1e-2, 1e-3, 1e-4} {
		c := likelihood.Maximise(ctx, &shrunk{o, weight}, from, func(c *likelihood.Climb) bool { return c.Distance < 1e-3 })
		if c.Err != nil {
			return nil, c.Err
		}
		o.Eval(c.X, 0, &p)
		if p.F > need+0.5*(f.LogLikelihood-need) {
			f.inner = c.X
			return c.X, nil
		}
	}
	f.inner = maximum.Along(f.Problem.Design, f.X, f.limits, f.moved, 10)
	return f.inner, nil
}

// free is the log-likelihood of the data under the design without limits.
func (f *Fit) free() *likelihood.CJS {
	if f.unlimited == nil {
		f.unlimited = likelihood.NewCJS(f.Problem.Design, f.data)
	}
	return f.unlimited
}

// atLimits is the log-likelihood of the data under the design at its limits.
func (f *Fit) atLimits() *likelihood.CJS {
	if f.limited == nil {
		f.limited = likelihood.NewCJS(f.design, f.data)
	}
	return f.limited
}

// atPeak is the log-likelihood at the maximum, under the design at its limits
// where it has some.
func (f *Fit) atPeak() *known {
	if f.peak == nil {
		f.peak = &known{x: f.X}
		f.atLimits().Eval(f.X, 2, &f.peak.p)
	}
	return f.peak
}

// shrunk is an objective less weight/2 · Σx².
type shrunk struct {
	likelihood.Objective
	weight float64
}

func (s *shrunk) Eval(x []float64, order int, p *likelihood.Point) {
	s.Objective.Eval(x, order, p)
	shrink(x, s.weight, order, p)
}

// shrink takes weight/2 · Σx² from p, at x.
func shrink(x []float64, weight float64, order int, p *likelihood.Point) {
	n := len(x)
	for i, v := range x {
		p.F -= weight / 2 * v * v
		if order >= 1 {
			p.G[i] -= weight * v
		}
		if order >= 2 {
			p.H[i*n+i] -= weight
		}
	}
}

// end is the limit on one side of value, with the coefficients there; NaN where
// none was found.
func (pr *profiler) end(ctx context.Context, value, side float64) (limit float64, x []float64, err error) {
	t := pr.tied

	if !t.linear && (side < 0 && value <= 0 || side > 0 && value >= 1) {
		return value, nil, nil
	}
	var s solution
	ok := false
	if pr.held != nil && (t.linear || value > 0 && value < 1) {
		s, ok, err = pr.sought(ctx, pr.held, solution{x: pr.fit.X}, side)
	}
	if err == nil && !ok {
		from := solution{x: pr.start}
		if pr.held != nil {
			from.soft = pr.start
		}
		s, ok, err = pr.sought(ctx, t, from, side)
	}
	if err == nil && !ok {
		s, ok, err = pr.fromRivals(ctx, side)
	}
	if err == nil && ok {
		s, err = pr.challenge(ctx, s, value, side)
	}
	switch {
	case err != nil || !ok:
		return math.NaN(), nil, err
	case s.open:

		return max(0, side), s.x, nil
	}

	return t.value(s.t), s.x, nil
}

func (f *Fit) warnAccused() {
	if f.accused != nil {
		f.warning(WarnProfileBeats, "fit", "While an interval was computed a better fit was found than the one the search had ended at. The model was fitted again from there; more than one maximum exists, so report it with care.")
		f.byWeight()
	}
}
