package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

const (
	// TooEarlySE: where the expected standard error of a probability, on the
	// logit scale, is above this, the data may end too early to tell slow from
	// dead, and no point is given. Around one half it makes the interval reach
	// from 36 to 64 %; beyond it the estimates of the season study
	// (testdata/studies/README.md) are biased.
	TooEarlySE = 0.3
	// TooEarlyRatio: it is the day that is too early, and not the fish too
	// few, where waiting for all migrants would bring the standard error down
	// by this factor at least. On such days intervals are by profile
	// likelihood: slow and dead are told apart by few fish, and large-sample
	// intervals are too short.
	TooEarlyRatio = 1.25
	// someUnderway: with a larger share of fish still to come, a probability
	// that comes out as 0 or 1 is put down to the day.
	someUnderway = 0.01
	// allDays is time enough for every migrant to have come.
	allDays = 1e5
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
	r := &running{f: f}
	fresh, all := p.NewReleases(), p.Releases()
	r.by = likelihood.SurvivedBy(f.design, f.X, fresh)
	r.unseen = likelihood.UnseenBy(f.design, f.X, p.Data.Waits)
	r.under = likelihood.Underway(f.design, f.X, fresh)
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
	r.inner, r.inside, r.innerVariance = f.X, r.nowScaled, r.now
	if len(f.limits) > 0 {
		var err error
		if r.inner, err = f.inside(ctx); err != nil {
			return nil, err
		}
		r.inside, r.innerVariance = information(p.Design, r.inner, all)
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
	r.end = f.withoutOutages(late)
	r.inner, r.inside, r.innerVariance = f.X, r.nowScaled, r.now
	if len(f.limits) > 0 {
		var err error
		if r.inner, err = f.inside(ctx); err != nil {
			return err
		}
		r.inside, r.innerVariance = observed(p.Design, r.inner)
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
	r := &running{f: f, nowScaled: f.scaled, now: f.scaled.Inverse(hereTolerance), end: f.withoutOutages(allIn(p.Releases()))}
	if r.end == nil {
		return nil
	}
	return r
}

// withoutOutages is the inverse of what these releases are expected to tell were
// all migrants in and no row ever idle.
func (f *Fit) withoutOutages(late []likelihood.Wait) []float64 {
	whole := *f.design
	whole.Layout = whole.Layout.AlwaysWorking()
	d := &whole
	if whole.Layout.Resting {
		d = withoutRest(d)
	}
	s, ok := linear.Decompose(likelihood.ExpectedInformation(d, f.X, late, f.Problem.TestUnits()), f.Parameters)
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
// still to pass.
func (r *running) row(gr *group, row *Passed, fresh []likelihood.FishGroup) {
	f := r.f
	whole := row.PassedShare
	if whole.Method == "bounds" {
		r.boundsRow(gr, row, fresh)
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
	estimate := func(v float64, g []float64, s Status) Estimate {
		e := Estimate{Value: v, SE: math.Sqrt(f.variance(g)), Status: s}
		e.Low, e.High, e.Method = f.interval(v, e.SE)
		return e
	}
	so := value / fish
	if whole.Status != TooEarly {
		row.SoFar = estimate(so, grad, whole.Status)
		row.StillToPass = estimate(max(0, whole.Value-so), rest, whole.Status)
		return
	}
	// What has come is told better than what will.
	row.SoFar = estimate(so, grad, Estimated)
	row.StillToPass = Estimate{Value: math.NaN(), SE: math.NaN(), Low: max(0, whole.Low-so), High: max(0, whole.High-so), Method: whole.Method, Status: TooEarly}
}

// early tells whether the data end too early for a point of a probability of
// value v and gradient grad, by the expected information of these releases,
// and rough whether its large-sample interval is not to be trusted.
func (r *running) early(v float64, grad []float64) (early, rough bool) {
	if r.now == nil || r.end == nil {
		return true, true
	}
	if !(v > 0 && v < 1) {
		return r.under > someUnderway, true
	}
	grad = append([]float64(nil), grad...)
	r.withoutRest(grad)
	if r.nowScaled.Outside(grad, hereTolerance) > determined {
		return true, true
	}
	se := func(covariance []float64) float64 { return math.Sqrt(quadratic(covariance, grad)) / (v * (1 - v)) }
	now := se(r.now)
	byDay := !(now < TooEarlyRatio*se(r.end))
	// What comes out at a bound mid-season is most often the day's doing;
	// standard errors that hold it there are too small. So are those where a
	// stretch has a law of its own: its own few fish tell slow from dead.
	narrow := len(r.f.limits) > 0 || r.f.Problem.Layout.LawCount() > 1
	return !(now < TooEarlySE) && byDay, byDay || narrow && r.under > someUnderway
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
