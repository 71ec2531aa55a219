package cjs

import (
	"cmp"
	"context"
	"math"
	"slices"

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
	f.ends = [2][]float64{}
	pr := &profiler{fit: f, tied: newTied(f.free(), q, f.isLinear(q)), top: f.LogLikelihood}
	pr.need = f.need()
	var err error
	if pr.start, err = f.inside(ctx); err != nil {
		return e, err
	}
	if len(f.limits) > 0 {
		pr.held = newTied(f.atLimits(), q, pr.tied.linear)
		pr.held.limits, pr.held.moved = f.limits, f.moved
	}
	if f.accused != nil && f.mayTry() {
		return e, nil // the fit will be made again
	}
	var x [2][]float64
	if e.Low, x[0], err = pr.end(ctx, e.Value, -1); err != nil {
		return e, err
	}
	if e.High, x[1], err = pr.end(ctx, e.Value, 1); err != nil {
		return e, err
	}
	f.ends = x
	return e, nil
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
	from := along(f.Problem.Design, f.X, f.limits, f.moved, farEnough)
	var p likelihood.Point
	for _, weight := range []float64{1e-2, 1e-3, 1e-4} {
		c := maximise(ctx, &shrunk{o, weight}, from, func(c *climb) bool { return c.distance < 1e-3 })
		if c.err != nil {
			return nil, c.err
		}
		o.Eval(c.x, 0, &p)
		if p.F > need+0.5*(f.LogLikelihood-need) {
			f.inner = c.x
			return c.x, nil
		}
	}
	f.inner = along(f.Problem.Design, f.X, f.limits, f.moved, 10)
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

// shrunk is an objective less weight/2 · Σx².
type shrunk struct {
	likelihood.Objective
	weight float64
}

func (s *shrunk) Eval(x []float64, order int, p *likelihood.Point) {
	s.Objective.Eval(x, order, p)
	n := len(x)
	for i, v := range x {
		p.F -= s.weight / 2 * v * v
		if order >= 1 {
			p.G[i] -= s.weight * v
		}
		if order >= 2 {
			p.H[i*n+i] -= s.weight
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
	if pr.held != nil {
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

const (
	// mostRivals bounds the other maxima from which a limit is challenged.
	mostRivals = 4
	// thinSample and thinColumns: with more releases, or more coefficients, a
	// second hill that matters is not met any more, and would be dear to seek.
	thinSample  = 2500
	thinColumns = 40
	// veryFewFish: with no more fish than this, of which some are parted, every
	// place where a number may part them is a rival.
	veryFewFish = 100
	// rivalGap: a maximum this far below the best is no rival.
	rivalGap = 6
)

// rivals are points on other hills of the likelihood: those of other maxima, and
// where coefficients go to infinity, or may, points with none far out.
func (pr *profiler) rivals() [][]float64 {
	// With times of passage every look costs much more.
	if pr.fit.running != nil || pr.fit.EffectiveSample > thinSample || pr.fit.Parameters > thinColumns {
		return nil
	}
	var out [][]float64
	if p := pr.fit.Problem; pr.held != nil || len(p.Numbers) > 0 && len(p.ClassOf) <= fewFishApart {
		out = append(out, pr.start, startValues(p))
	}
	seen := []float64{pr.top}
	for _, m := range pr.fit.maxima {
		if pr.top-m.f > rivalGap || slices.ContainsFunc(seen, func(v float64) bool { return math.Abs(v-m.f) < 1e-4 }) {
			continue
		}
		if seen = append(seen, m.f); len(out) < mostRivals {
			out = append(out, m.x)
		}
	}
	if p := pr.fit.Problem; pr.held != nil && len(p.ClassOf) <= veryFewFish {
		out = append(out, stepStarts(p)...)
	}
	return out
}

// fromRivals seeks a limit that the straight ways did not find from other hills
// of the likelihood.
func (pr *profiler) fromRivals(ctx context.Context, side float64) (s solution, ok bool, err error) {
	f := pr.fit
	var from []solution
	if pr.held != nil {
		for _, far := range []float64{farEnough, farEnough / 2} {
			from = append(from, solution{x: along(f.Problem.Design, f.X, f.limits, f.moved, far)})
		}
	}
	for _, x := range pr.rivals() {
		from = append(from, solution{x: x, soft: x})
	}
	for _, begin := range from {
		if s, ok, err = pr.bracketed(ctx, pr.tied, begin, side); ok || err != nil {
			return s, ok, err
		}
	}
	return s, false, nil
}

// challenge looks whether the constrained maximum at a limit found is the
// highest: one on another hill may stay above the limit farther out.
func (pr *profiler) challenge(ctx context.Context, s solution, value, side float64) (solution, error) {
	t := pr.tied
	rivals := pr.rivals()
	// At the limit itself and beyond, by shares of the interval's own width.
	for _, beyond := range []float64{0, 0.08, 0.16, 0.3, 0.5} {
		var met []solution
		for _, x := range rivals {
			at := s.t + side*beyond*min(2, math.Abs(s.t-t.onScale(value)))
			if s.open || !t.linear && math.Abs(at) > openEnd {
				return s, nil
			}
			rival, ok, err := pr.rival(ctx, x, at)
			if err != nil {
				return s, err
			}
			if !ok {
				continue
			}
			met = append(met, rival)
			if rival.f < pr.need+roughGap {
				continue
			}
			farther, ok, err := pr.bracketed(ctx, t, rival, side)
			if err != nil {
				return s, err
			}
			if ok && (farther.t-s.t)*side > 0 {
				s = farther
			}
		}
		rivals = highest(met)
	}
	return s, nil
}

// highest are the mostRivals highest of the points met, each hill once.
func highest(met []solution) [][]float64 {
	slices.SortStableFunc(met, func(a, b solution) int { return cmp.Compare(b.f, a.f) })
	var out [][]float64
	last := math.Inf(1)
	for _, m := range met {
		if last-m.f > 1e-6 && len(out) < mostRivals {
			last = m.f
			out = append(out, m.x)
		}
	}
	return out
}

// rival is the higher of the constrained maxima that are met from x straight on
// and by the shrunk way.
func (pr *profiler) rival(ctx context.Context, x []float64, target float64) (solution, bool, error) {
	t := pr.tied
	t.pressings = 0
	hard, found, err := t.newton(ctx, x, target)
	if err != nil {
		return hard, false, err
	}
	soft, ok, err := t.maximum(ctx, solution{x: x, soft: x}, target)
	if ok && (!found || soft.f > hard.f) {
		return soft, true, err
	}
	return hard, found, err
}

// sought is the limit on one side, by the quick way or else the sure one.
func (pr *profiler) sought(ctx context.Context, t *tied, from solution, side float64) (solution, bool, error) {
	s, ok, err := pr.straight(ctx, t, from.x, side)
	if err == nil && !ok {
		s, ok, err = pr.bracketed(ctx, t, from, side)
	}
	return s, ok, err
}

// solution is a point with the quantity, on its scale, at t. Where it is open
// the limit lies beyond all that can be told from 0 or 1.
type solution struct {
	x []float64
	t float64
	f float64 // log-likelihood
	// slope is the derivative of the constrained maximum by t.
	slope float64
	open  bool
	// soft, where not nil, is the maximum of the log-likelihood less a small
	// square of the coefficients, from which this one was found.
	soft []float64
}

// straight goes for the limit by Newton's method on the equations of the
// constrained maximum and of the limit together. It needs a few steps where the
// log-likelihood is nearly a parabola, and gives up soon where it is not.
func (pr *profiler) straight(ctx context.Context, t *tied, from []float64, side float64) (solution, bool, error) {
	t.at(from)
	begin := t.q.F
	gain, tails := math.Inf(1), 0
	longest := 2.0
	for range 15 {
		if err := ctx.Err(); err != nil {
			return solution{}, false, err
		}
		s, ok := t.step()
		if !ok || !(s.curve > 0) {
			return solution{}, false, nil
		}
		pr.accuse(t)
		if math.Abs(t.p.F-pr.need) < limitGap && s.gain < restGain && !s.raised {
			found := solution{x: t.copyX(), t: t.q.F, f: t.p.F, slope: s.slope}
			return pr.far(t, found), (t.q.F-begin)*side > 0 && pr.stays(t, found), nil
		}
		// Where a probability goes to 0 or 1 on the way, each step leaves a
		// share of 1/e of what there is to gain: it is put there.
		if r := s.gain / gain; r > 0.3 && r < 0.5 {
			tails++
		} else {
			tails = 0
		}
		if gain = s.gain; tails >= 3 {
			if edge := pr.atEdge(t); edge != nil {
				found, ok, err := pr.straight(ctx, edge, t.copyX(), side)
				return found, ok && (found.t-begin)*side > 0, err
			}
		}
		// The constrained maximum at t + d is about F + gain/2 + md − curve d²/2.
		above := t.p.F + s.gain/2 - pr.need
		d := s.slope / s.curve
		if root := s.slope*s.slope + 2*s.curve*above; root > 0 {
			d += side * math.Sqrt(root) / s.curve
		}
		d = max(-longest, min(longest, d))
		if math.Abs(t.q.F+d) > openEnd && !t.linear {
			return solution{}, false, nil
		}
		t.move(s, d)
		if math.IsNaN(t.p.F) || math.IsInf(t.p.F, 0) || math.IsNaN(t.q.F) || math.IsInf(t.q.F, 0) {
			return solution{}, false, nil
		}
	}
	return solution{}, false, nil
}

// accuse notes a point that beats the fit.
func (pr *profiler) accuse(t *tied) {
	if t.p.F > pr.top+1e-6 && pr.fit.accused == nil {
		pr.fit.accused = t.copyX()
	}
}

// atEdge is t with what is near 0 or 1 and goes there held there; nil where
// nothing does.
func (pr *profiler) atEdge(t *tied) *tied {
	f := pr.fit
	s := newSearch(f.Problem, f.data)
	s.design, s.limits, s.moved = t.design, t.limits, t.moved
	d, rows := s.edgeAt(t.x, leaning).direction()
	if d == nil {
		return nil
	}
	limits, moved := append(slices.Clip(t.limits), d), append(slices.Clip(t.moved), rows)
	edge := newTied(likelihood.NewCJS(f.Problem.Design.WithLimits(limits), f.data), t.quantity, t.linear)
	edge.limits, edge.moved = limits, moved
	return edge
}

// far is a limit found with something held at 0 or 1, as coefficients that are
// as good as there.
func (pr *profiler) far(t *tied, s solution) solution {
	if t.limits != nil {
		s.x = along(pr.fit.Problem.Design, s.x, t.limits, t.moved, 24)
	}
	return s
}

// stays tells whether a limit found with something held at 0 or 1 is one without
// that too: to let go of it gains nothing.
func (pr *profiler) stays(t *tied, s solution) bool {
	if t.limits == nil {
		return true
	}
	// So near the bound the log-likelihood is as good as linear in the distance.
	const near = 12
	free := pr.tied
	copy(free.x, along(pr.fit.Problem.Design, s.x, t.limits, t.moved, near))
	free.eval()
	gain := free.p.F - s.f - s.slope*(free.q.F-s.t)
	return gain <= 1e-9*(1+math.Abs(s.f)*1e-3)
}

// bracketed goes outwards from constrained maximum to constrained maximum until
// one is below the limit, and then between the two.
func (pr *profiler) bracketed(ctx context.Context, t *tied, begin solution, side float64) (solution, bool, error) {
	t.pressings = 0
	t.at(begin.x)
	inner, ok, err := t.maximum(ctx, begin, t.q.F)
	if err != nil || !ok {
		return solution{}, false, err
	}
	fall := func(s solution) float64 { return math.Sqrt(max(0, pr.top-s.f)) - math.Sqrt(pr.top-pr.need) }
	if fall(inner) > 0 {
		return solution{}, false, nil
	}
	var outer *solution
	stride := 0.5
	for range mostMaxima {
		pr.accuse(t)
		if math.Abs(inner.f-pr.need) < roughGap {
			return pr.far(t, inner), pr.stays(t, inner), nil
		}
		var next float64
		if outer == nil {
			if !t.linear && pr.open(inner, side) {
				return pr.atTheEnd(ctx, t, inner, side)
			}
			next = inner.t + side*min(stride, pr.reach(inner))
			if !t.linear {
				next = max(-openEnd, min(openEnd, next))
			}
		} else {
			// The root of the fall is nearly straight: a secant, kept well
			// inside.
			share := fall(inner) / (fall(inner) - fall(*outer))
			next = inner.t + min(0.9, max(0.1, share))*(outer.t-inner.t)
			if math.Abs(outer.t-inner.t) < 1e-7 {
				// The profile steps down here, from one kind of maximum to
				// another.
				return pr.far(t, *outer), pr.stays(t, *outer), nil
			}
		}
		s, ok, err := t.maximum(ctx, inner, next)
		switch {
		case err != nil:
			return solution{}, false, err
		case !ok:
			// Too far at once, or nothing is there.
			if stride /= 4; stride < 1e-3 || outer != nil {
				return solution{}, false, nil
			}
		case fall(s) > 0:
			outer = &s
			if math.Abs(s.f-pr.need) < roughGap {
				return pr.far(t, s), pr.stays(t, s), nil
			}
		default:
			inner = s
			if outer == nil {
				stride *= 2
			}
		}
	}
	return solution{}, false, nil
}

// atTheEnd is the constrained maximum as near to 0 or 1 as can be told, or else
// the last before it.
func (pr *profiler) atTheEnd(ctx context.Context, t *tied, last solution, side float64) (solution, bool, error) {
	s := last
	if side*last.t < openEnd-1e-6 {
		end, ok, err := t.maximum(ctx, last, side*openEnd)
		if err != nil {
			return s, false, err
		}
		if ok {
			s = end
		}
	}
	s = pr.far(t, s)
	s.open = true
	return s, true, nil
}

// reach is how far from a constrained maximum the limit should lie: a little
// beyond where the root of the fall would be were it straight.
func (pr *profiler) reach(s solution) float64 {
	root := math.Sqrt(max(0, pr.top-s.f))
	if root < 1e-3 {
		return math.Inf(1)
	}
	return 1.1 * (math.Sqrt(pr.top-pr.need) - root) * 2 * root / math.Abs(s.slope)
}

// open tells whether the constrained maximum stays above the limit all the way
// to 0 or 1: the end of the scale is reached, or what it still loses, falling
// off as it does with the distance from 0 or 1 itself, is far too little.
func (pr *profiler) open(s solution, side float64) bool {
	out := s.t * side
	return out >= openEnd-1e-6 || out > openEnd/2 && s.f-pr.need > 10*math.Abs(s.slope)
}

func (f *Fit) warnAccused() {
	if f.accused != nil {
		f.warning(WarnProfileBeats, "fit", "While an interval was computed a better fit was found than the one the search had ended at. The model was fitted again from there; more than one maximum exists, so report it with care.")
		f.byWeight()
	}
}
