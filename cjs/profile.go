package cjs

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs/internal/cores"
	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/likelihood"
)

// ask has the interval of e, an estimate of q, be found by profile likelihood, see
// find; settle sets it.
func (f *Fit) ask(q *likelihood.Quantity, e Estimate) Estimate {
	e.Method = "profile"
	key := q.Key(f.Problem.Design)
	if e.pending = f.profiled[key]; e.pending != nil {
		return e
	}
	e.pending = &pending{quantity: q, value: e.Value, low: math.NaN(), high: math.NaN()}
	f.asked = append(f.asked, e.pending)
	if key != "" {
		f.profiled[key] = e.pending
	}
	return e
}

// settle sets the intervals of estimates for which one was asked, and is found.
func settle(estimates ...*Estimate) {
	for _, e := range estimates {
		if e.pending == nil {
			continue
		}
		e.Low, e.High = e.pending.low, e.pending.high
		if e.Method == "bounds" {
			e.Low, e.High = beside(e.Low, e.High, e.share)
		}
		e.pending, e.share = nil, 0
	}
}

// beside are bounds where such limits are those of a share of the fish, and of the
// others nothing is known.
func beside(low, high, share float64) (float64, float64) {
	low, high = share*low, share*high+1-share
	if math.IsNaN(low) {
		low = 0
	}
	if math.IsNaN(high) {
		high = 1
	}
	return low, high
}

// find finds the intervals asked for, on all cores. None hangs on another; of
// points that beat the fit the first counts, in the order in which was asked.
func (f *Fit) find(ctx context.Context) error {
	asked := f.asked
	if f.asked = nil; len(asked) == 0 || f.accused != nil && f.mayTry() {
		return nil
	}
	if _, err := f.inside(ctx); err != nil {
		return err
	}
	f.atPeak()
	tasks := f.tasks(asked)
	cores.Each(ctx, len(tasks), func() func(int) {
		of := f.again()
		return func(i int) { of.findAll(ctx, tasks[i]) }
	})
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, p := range asked {
		if p.err != nil {
			return p.err
		}
		f.accuse(p.accused)
	}
	return nil
}

// accuse notes a point that beats the fit, the first of all; nil is none.
func (f *Fit) accuse(x []float64) {
	if f.accused == nil {
		f.accused = x
	}
}

// again is f with room of its own for what is no part of the answer, for one more
// goroutine.
func (f *Fit) again() *Fit {
	of, own := *f, *f.machine
	own.unlimited, own.limited, own.room = nil, nil, nil
	of.machine = &own
	return &of
}

// tasks are the intervals asked for, each by itself or those of one component
// together: the former first, which take longest.
func (f *Fit) tasks(asked []*pending) (tasks [][]*pending) {
	var apart [][]*pending
	for _, p := range asked {
		at := f.componentOf(p.quantity)
		if at < 0 {
			tasks = append(tasks, []*pending{p})
			continue
		}
		if apart == nil {
			apart = make([][]*pending, len(f.split.columns))
		}
		apart[at] = append(apart[at], p)
	}
	return append(tasks, slices.DeleteFunc(apart, func(t []*pending) bool { return len(t) == 0 })...)
}

// findAll finds the intervals of a task.
func (f *Fit) findAll(ctx context.Context, task []*pending) {
	at := f.componentOf(task[0].quantity)
	if at < 0 {
		f.limitsOf(ctx, task[0])
		return
	}
	apart := f.makeComponent(at, at)
	for _, p := range task {
		if apart.limitsOf(ctx, p); p.err != nil {
			return
		}
		p.accused = apart.whole(f, p.accused)
		p.ends = [2][]float64{apart.whole(f, p.ends[0]), apart.whole(f, p.ends[1])}
	}
}

// limitsOf sets the interval of p to where −2 ln L rises by the chi-square quantile
// above its minimum with the quantity given and all else free (Venzon & Moolgavkar
// 1988). An end that is not reached, whatever the value, is 0 or 1: the interval is
// open there. An end that could not be found is NaN.
func (f *Fit) limitsOf(ctx context.Context, p *pending) {
	pr, err := f.profiler(ctx, p.quantity)
	if err == nil {
		p.low, p.ends[0], err = pr.end(ctx, p.value, -1)
	}
	if err == nil {
		p.high, p.ends[1], err = pr.end(ctx, p.value, 1)
	}
	if p.err = err; pr != nil {
		p.accused = pr.accused
	}
}

// profiler seeks the limits of q.
func (f *Fit) profiler(ctx context.Context, q *likelihood.Quantity) (*profiler, error) {
	pr := &profiler{fit: f, tied: newTied(f.free(), q, f.isLinear(q)), top: f.LogLikelihood, need: f.need()}
	pr.tied.known = slices.Clip(f.rivals)
	if f.ample() {
		pr.tied.split(f.components().columns)
	}
	if f.room == nil {
		f.room = pr.tied.room
	}
	pr.tied.room = f.room
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
	s, ok, err := pr.limit(ctx, value, side)
	if err == nil && ok {
		s, err = pr.challenge(ctx, s, value, side)
	}
	if err == nil && ok && !t.holds(s, value, side) {
		s, ok, err = pr.fromRivals(ctx, value, side)
	}
	switch {
	case err != nil || !ok:
		return math.NaN(), nil, err
	case s.open:

		return max(0, side), s.x, nil
	}

	return t.value(s.t), s.x, nil
}

// limit is what the first of several ways finds; ok is false where none does.
func (pr *profiler) limit(ctx context.Context, value, side float64) (s solution, ok bool, err error) {
	t := pr.tied
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
		s, ok, err = pr.fromRivals(ctx, value, side)
	}
	return s, ok, err
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
