package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/cjs/internal/maximum"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/likelihood"
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

// mostTries bounds how often a fit is made again because a profile beat it.
const mostTries = 3

// mayTry tells whether the fit is made again where a profile beats it: not
// often, and not where the start was given.
func (f *Fit) mayTry() bool {
	return f.tries < mostTries && (f.Options.Start == nil || f.tries > 0)
}
