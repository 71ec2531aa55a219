package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// moving are the groups of fish that move alike, each as often as there are laws.
func (f *Fit) moving() (out []group) {
	for _, gr := range groups(f.Problem, f.Problem.MovementCategories) {
		for range f.Problem.Layout.LawCount() {
			out = append(out, gr)
		}
	}
	return out
}

// newRunning is nil when the season is over.
func (f *Fit) newRunning(ctx context.Context) (*running, error) {
	p := f.Problem
	if !p.Running() {
		return nil, nil
	}
	fresh, all := p.NewReleases(), p.Releases()
	r := &running{f: f, fresh: fresh}
	r.by = likelihood.SurvivedBy(f.design, f.X, fresh)
	r.unseen = likelihood.UnseenBy(f.design, f.X, p.Data.Waits)
	r.under = likelihood.Underway(f.design, f.X, fresh)
	if f.Options.ValuesOnly {
		return r, nil
	}
	late := allIn(all)
	if p.Windowed() {
		return r, r.withWindows(ctx, late)
	}
	information := func(d *likelihood.Design, x []float64, releases []likelihood.Wait) (*linear.Eigen, []float64) {
		if p.Layout.Resting {
			// Of the mixture the expectation has no closed form: for this
			// purpose nobody rests.
			d = withoutRest(d)
		}
		s, ok := linear.Decompose(likelihood.ExpectedInformation(d, x, releases, p.TestUnits()), f.Parameters)
		if !ok {
			return nil, nil
		}
		return s, s.Inverse(hereTolerance)
	}
	r.nowScaled, r.now = information(f.design, f.X, all)
	_, r.end = information(f.design, f.X, late)
	r.inner, r.inside, r.innerVariance, r.innerEnd = f.X, r.nowScaled, r.now, r.end
	if len(f.limits) > 0 {
		var err error
		if r.inner, err = f.inside(ctx); err != nil {
			return nil, err
		}
		r.inside, r.innerVariance = information(p.Design, r.inner, all)
		_, r.innerEnd = information(p.Design, r.inner, late)
	}
	return r, nil
}

// withWindows fills what is told now and in the end where rows do not work all
// the time. What these releases are expected to tell has no closed form then:
// now is what was observed, and in the end there is no outage.
func (r *running) withWindows(ctx context.Context, late []likelihood.Wait) error {
	f := r.f
	p := f.Problem
	observed := func(d *likelihood.Design, x []float64) (*linear.Eigen, []float64) {
		var at likelihood.Point
		likelihood.NewCJS(d, f.data).Eval(x, 2, &at)
		for i, v := range at.H {
			at.H[i] = -v
		}
		s, ok := linear.Decompose(at.H, f.Parameters)
		if !ok {
			return nil, nil
		}
		return s, s.Inverse(hereTolerance)
	}
	r.nowScaled, r.now = observed(f.design, f.X)
	r.end = f.withoutOutages(f.design, f.X, late)
	r.inner, r.inside, r.innerVariance, r.innerEnd = f.X, r.nowScaled, r.now, r.end
	if len(f.limits) > 0 {
		var err error
		if r.inner, err = f.inside(ctx); err != nil {
			return err
		}
		r.inside, r.innerVariance = observed(p.Design, r.inner)
		r.innerEnd = f.withoutOutages(p.Design, r.inner, late)
	}
	return nil
}

// overWithWindows is what tells whether outages leave a probability without a
// point, nil where none does: the season is over, and all rows worked all the time or
// no more is asked for than values.
func (f *Fit) overWithWindows() *running {
	p := f.Problem
	if p.Running() || !p.Windowed() || f.Options.EstimatesOnly {
		return nil
	}
	r := &running{f: f, nowScaled: f.scaled, now: f.scaled.Inverse(hereTolerance), end: f.withoutOutages(f.design, f.X, allIn(p.Releases()))}
	if r.end == nil {
		return nil
	}
	return r
}

// withoutOutages is the inverse of what these releases are expected to tell were
// all migrants in and no row ever idle.
func (f *Fit) withoutOutages(d *likelihood.Design, x []float64, late []likelihood.Wait) []float64 {
	whole := *d
	whole.Layout = whole.Layout.AlwaysWorking()
	d = &whole
	if whole.Layout.Resting {
		d = withoutRest(d)
	}
	s, ok := linear.Decompose(likelihood.ExpectedInformation(d, x, late, f.Problem.TestUnits()), f.Parameters)
	if !ok {
		return nil
	}
	return s.Inverse(hereTolerance)
}

// allIn are releases with time enough for every migrant to have come.
func allIn(releases []likelihood.Wait) []likelihood.Wait {
	late := slices.Clone(releases)
	for i := range late {
		late[i].Days = allDays
	}
	return late
}

// row adds to a row of the passed table what has passed so far and what is
// still to pass; at are the limits of what will have passed (of fish of which
// something is known), nil where its interval is not by profile likelihood.
func (r *running) row(gr *group, row *Passed, fresh []likelihood.FishGroup, at *pending) {
	f := r.f
	whole := row.PassedShare
	if whole.Method == "bounds" {
		r.boundsRow(gr, row, fresh, at)
		return
	}
	if whole.Status == Inseparable || whole.Status == Absent {
		row.SoFar, row.StillToPass = NoEstimate(whole.Status), NoEstimate(whole.Status)
		return
	}
	grad := make([]float64, f.Parameters)
	value, _, fish := f.sumOver(gr, r.by, row.Site, grad)
	rest := make([]float64, f.Parameters)
	for j := range grad {
		grad[j] /= fish
		rest[j] = row.grad[j] - grad[j]
	}
	so := value / fish
	status := whole.Status
	if status == TooEarly {
		// What has come is told better than what will.
		status = r.comeStatus(gr, row.Site, fresh)
	}
	row.SoFar = Estimate{Value: so, SE: math.Sqrt(f.variance(grad)), Status: status}
	row.StillToPass = Estimate{Value: max(0, row.point-so), SE: math.Sqrt(f.variance(rest)), Status: status}
	soAt, restAt := r.sharesAt(gr, row.Site, fresh, at)
	f.intervalAt(&row.SoFar, grad, row.grad, soAt)
	f.intervalAt(&row.StillToPass, rest, row.grad, restAt)
	row.SoFar.within(&whole)
	row.SoFar.forTimes, row.StillToPass.forTimes = whole.forTimes, whole.forTimes
	if whole.Status == TooEarly {
		row.StillToPass = Estimate{Value: math.NaN(), SE: math.NaN(), Low: max(0, whole.Low-so), High: max(0, whole.High-so), Method: whole.Method, Status: TooEarly}
	}
}

// boundsRow sets what has passed so far and what will, of a row that holds fish
// of which nothing is known: they may all have died, or have come as they would
// had none.
func (r *running) boundsRow(gr *group, row *Passed, fresh []likelihood.FishGroup, at *pending) {
	f := r.f
	k := row.Site
	var known, unknown group
	for _, g := range gr.classes {
		one := group{classes: []int{g}}
		q := meanQuantity(&one, fresh, k, f.above(k))
		switch {
		case len(q.Means) == 0:
		case r.unknown(q):
			unknown.classes = append(unknown.classes, g)
		default:
			known.classes = append(known.classes, g)
		}
	}
	fish := float64(row.Released)
	so := r.soFarOf(&known, k, fresh, at)
	came := make([]float64, f.Parameters)
	atMost, _, _ := f.sumOver(&unknown, r.come(), k, came)
	atMost += f.z * math.Sqrt(f.variance(came)) // how fast they are is known no better
	told := known.tally(f.Problem)
	of := float64(told.NewAbove(k)) / fish
	so = Estimate{Value: of * so.Value, SE: of * so.SE, Low: of * so.Low, High: of * so.High, Status: r.comeStatus(gr, k, fresh), Method: "bounds"}
	t := unknown.tally(f.Problem)
	seen := float64(t.KnownPassed(k)) / fish
	so.Low, so.High = so.Low+seen, min(1, so.High+max(seen, atMost/fish))
	if atMost/fish > hidden {
		so.Value, so.SE, so.Status = math.NaN(), math.NaN(), TooEarly
	}
	row.SoFar = so
	row.StillToPass = Estimate{Value: math.NaN(), SE: math.NaN(), Status: TooEarly, Method: "bounds",
		Low: max(0, row.PassedShare.Low-so.High), High: max(0, row.PassedShare.High-so.Low)}
	row.PassedFish = r.fishBounds(&known, &unknown, row)
}

// soFarOf is what has passed site k so far of fish of which something is known,
// at the limits of what will have; 0 of none.
func (r *running) soFarOf(known *group, k int, fresh []likelihood.FishGroup, at *pending) Estimate {
	f := r.f
	grad := make([]float64, f.Parameters)
	value, _, fish := f.sumOver(known, r.by, k, grad)
	if fish == 0 {
		return Estimate{}
	}
	for j := range grad {
		grad[j] /= fish
	}
	so := Estimate{Value: value / fish, SE: math.Sqrt(f.variance(grad))}
	so.Low, so.High = so.Value, so.Value
	if so.Value > 0 && so.Value < 1 {
		var whole likelihood.Point
		meanQuantity(known, fresh, k, f.above(k)).Eval(f.design, f.X, 1, &whole)
		soAt, _ := r.sharesAt(known, k, fresh, at)
		f.intervalAt(&so, grad, whole.G, soAt)
	}
	return so
}

// comeStatus is the status of what has passed a site so far where that of what
// will have passed is too early.
func (r *running) comeStatus(gr *group, site int, fresh []likelihood.FishGroup) Status {
	if r.f.borrows(meanQuantity(gr, fresh, site, r.f.above(site))) {
		return Borrowed
	}
	return Estimated
}

// sharesAt are, with the coefficients at each of some limits, the share of a group that has
// passed a site so far, and that which is still to.
func (r *running) sharesAt(gr *group, site int, fresh []likelihood.FishGroup, at *pending) (so, rest []float64) {
	if at == nil {
		return nil, nil
	}
	d := r.f.Problem.Design
	q := meanQuantity(gr, fresh, site, r.f.above(site))
	releases := slices.DeleteFunc(slices.Clone(r.fresh), func(w likelihood.Wait) bool { return !gr.has(w.Class) })
	for _, x := range at.ends {
		if x == nil {
			continue
		}
		value, _, fish := r.f.sumOver(gr, likelihood.SurvivedBy(d, x, releases), site, nil)
		var p likelihood.Point
		q.Eval(d, x, 0, &p)
		so, rest = append(so, value/fish), append(rest, max(0, p.F-value/fish))
	}
	return so, rest
}

// intervalAt sets the interval of e, a part of another quantity that has its own
// by profile likelihood: at are the values of e at the limits of that one, to
// which the covariance, often too narrow there, does not lead. What of the
// variance of e it does not share with the other (grad and with are their
// gradients) is added as its own, on the logit scale. Where e is all but the
// whole of the other its interval is that of the other; where the other tells
// nothing of it, that by its standard error.
func (f *Fit) intervalAt(e *Estimate, grad, with []float64, at []float64) {
	e.Low, e.High, e.Method = f.interval(e.Value, e.SE)
	if len(at) == 0 {
		return
	}
	e.Method = "profile"
	if !(e.Value > 0 && e.Value < 1) {
		e.Low, e.High = max(0, min(e.Low, slices.Min(at))), min(1, max(e.High, slices.Max(at)))
		return
	}
	var shared float64
	n := f.Parameters
	for i, a := range grad {
		for j, b := range with {
			shared += a * f.Covariance[i*n+j] * b
		}
	}
	own := 1.0
	if v := f.variance(with) * e.SE * e.SE; v > 0 {
		own = max(0, 1-shared*shared/v)
	}
	eta := likelihood.LogitOf(e.Value)
	w := f.z * e.SE / (e.Value * (1 - e.Value)) * math.Sqrt(own)
	low, high := 0.0, 0.0
	for _, v := range at {
		off := likelihood.LogitOf(v) - eta
		low, high = min(low, off), max(high, off)
	}
	e.Low, _ = likelihood.Expit(eta - math.Hypot(low, w))
	e.High, _ = likelihood.Expit(eta + math.Hypot(high, w))
}

// within keeps the interval of a part of a share from reaching above that of the
// share at either end.
func (e *Estimate) within(whole *Estimate) {
	if e.Low > whole.Low {
		e.Low = whole.Low
	}
	if e.High > whole.High {
		e.High = whole.High
	}
}

// withoutRest is the design of the same fish where nobody rests.
func withoutRest(d *likelihood.Design) *likelihood.Design {
	c := *d
	c.Layout = d.Layout.WithoutRest()
	c.Slots = make([][][]likelihood.Entry, len(d.Slots))
	c.Links = make([][]likelihood.Link, len(d.Links))
	for g := range d.Slots {
		c.Slots[g] = d.Slots[g][:c.Layout.Slots()]
		c.Links[g] = d.Links[g][:c.Layout.Slots()]
	}
	return &c
}
