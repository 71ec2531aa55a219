package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// Movement is drift and spread of a group of migrants, from the first-passage
// law of their times.
type Movement struct {
	Of []Category  // the fish; empty for all
	At []Covariate // covariate values the estimate is for
	// From and To are the sites between which they travel so; the whole river
	// where the model has one law.
	From, To int
	// Drift is in km/day, Spread in km/√day; both absent where the length of the
	// one reach is not known.
	Drift, Spread Estimate
	// Rest is the share that rests after release, RestDays how long on
	// average; Status Absent where the model has no rest.
	Rest, RestDays Estimate
}

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

// movement fills Movement.
func (f *Fit) movement(ctx context.Context) error {
	p := f.Problem
	if !p.Timed() {
		return nil
	}
	l := p.Layout
	for i, gr := range f.moving() {
		law := i % l.LawCount()
		m := Movement{Of: gr.of, At: append(f.covariates(model.Drift), f.covariates(model.Spread)...), Rest: NoEstimate(Absent), RestDays: NoEstimate(Absent)}
		m.From, m.To = l.Stretch(law)
		for _, one := range []struct {
			slot int
			e    *Estimate
		}{{l.Drift(law), &m.Drift}, {l.Spread(law), &m.Spread}} {
			z := make([]float64, p.Design.Numbers)
			z[0] = 1
			grad := make([]float64, f.Parameters)
			f.design.AddGradient(grad, 1, gr.classes[0], one.slot, z)
			eta := f.design.Predictor(f.X, gr.classes[0], one.slot, z)
			if f.scaled.Outside(grad, hereTolerance) > determined {
				*one.e = NoEstimate(Inseparable)
				continue
			}
			*one.e = f.exponential(eta, math.Sqrt(f.variance(grad)), Estimated)
		}
		if p.OneUnmeasuredReach() {
			m.Drift, m.Spread = NoEstimate(Absent), NoEstimate(Absent)
		}
		if l.Resting && law == 0 {
			var err error
			if m.Rest, m.RestDays, err = f.rest(ctx, gr.classes[0]); err != nil {
				return err
			}
		}
		f.Movement = append(f.Movement, m)
	}
	return ctx.Err()
}

// ByStretch tells whether movement differs between stretches of the river.
func ByStretch(movement []Movement) bool {
	return len(movement) > 0 && movement[0].To != movement[len(movement)-1].To
}

// moving are the groups of fish that move alike, each as often as there are laws.
func (f *Fit) moving() (out []group) {
	for _, gr := range groups(f.Problem, f.Problem.MovementCategories) {
		for range f.Problem.Layout.LawCount() {
			out = append(out, gr)
		}
	}
	return out
}

// rest is the share of fish of class g that rest, and for how many days: the
// way they lose over their drift.
func (f *Fit) rest(ctx context.Context, g int) (share, days Estimate, err error) {
	l := f.Problem.Layout
	q := f.slot(g, likelihood.Factor{Slot: l.Rest()})
	if share, err = f.estimate(ctx, &q); err != nil {
		return share, days, err
	}
	z := make([]float64, f.Problem.Design.Numbers)
	z[0] = 1
	grad := make([]float64, f.Parameters)
	f.design.AddGradient(grad, 1, g, l.RestKm(), z)
	f.design.AddGradient(grad, -1, g, l.Drift(0), z)
	if f.scaled.Outside(grad, hereTolerance) > determined {
		return share, NoEstimate(Inseparable), nil
	}
	eta := f.design.Predictor(f.X, g, l.RestKm(), z) - f.design.Predictor(f.X, g, l.Drift(0), z)
	return share, f.exponential(eta, math.Sqrt(f.variance(grad)), Estimated), nil
}

// running is what a fit needs to know of a season that still runs.
type running struct {
	f      *Fit
	by     []likelihood.PassedSums // newly released fish: come by the end of the data
	unseen []likelihood.PassedSums // waiting fish: passed unseen by then
	// now and end are the inverse expected information of these releases, by
	// the end of the data and when every migrant has come.
	now, end  []float64
	nowScaled *linear.Eigen
	// under is the share of the newly released fish that, did all survive,
	// would still have to come to the last site.
	under float64
	// inner is a point at which nothing is at a bound, inside the expected
	// information there by the end of the data and innerVariance its inverse.
	inner         []float64
	inside        *linear.Eigen
	innerVariance []float64
	// alive is made when first asked for; see come.
	alive []likelihood.PassedSums
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
