package cjs

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// curvePoints is how many points a curve has.
const curvePoints = 21

// Effects computes the effects of the fitted model. A curve has hundreds of
// points, and profile likelihood for each would take minutes: their intervals
// are on the logit scale where that is possible, as their method says, and limits
// by profile likelihood are challenged where they lie, not beyond.
func (f *Fit) Effects(ctx context.Context) (*Effects, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	e := &Effects{Ratios: f.ratios(), Paces: f.paces()}
	quick := *f
	quick.Options.Interval = "logit"
	own := *f.machine
	own.profiled, own.forCurves = maps.Clone(f.profiled), true
	quick.machine = &own
	var err error
	if e.Relative, err = f.relative(ctx); err != nil {
		return nil, err
	}
	if e.Curves, err = quick.curves(ctx); err != nil {
		return nil, err
	}
	return e, nil
}

func (f *Fit) curves(ctx context.Context) ([]Curve, error) {
	p := f.Problem
	var out []Curve
	for i := range p.Numbers {
		for _, part := range []model.Part{model.Survival, model.Detection} {
			names := p.SurvivalCategories
			if part == model.Detection {
				names = p.DetectionCategories
			}
			if !slices.Contains(p.TermsOf(part).Names(), p.Numbers[i].Name) {
				continue
			}
			for _, gr := range groups(p, names) {
				for a := range p.Layout.Slots() {
					if p.PartOf(a) != part || !p.Design.Varies(gr.classes[0], a) {
						continue
					}
					c := Curve{Part: part, Of: gr.of, From: p.Site(a), Row: -1, Number: p.Numbers[i].Name}
					if part == model.Survival {
						c.From = p.Layout.Reach(a)
					} else if from, to := p.Layout.SiteRows(c.From); to-from > 1 {
						c.Row = p.Layout.Row(a) - from
					}
					for step := range curvePoints {
						v := p.Numbers[i].Min + (p.Numbers[i].Max-p.Numbers[i].Min)*float64(step)/(curvePoints-1)
						q := f.slot(gr.classes[0], likelihood.Factor{Slot: a})
						q.Means[0].Z = p.NumbersAt(i, v)
						est, err := f.estimate(ctx, &q)
						if err != nil {
							return nil, err
						}
						c.Points = append(c.Points, CurvePoint{v, est})
					}
					out = append(out, c)
				}
			}
		}
	}
	err := f.find(ctx)
	for i := range out {
		for k := range out[i].Points {
			settle(&out[i].Points[k].Estimate)
		}
	}
	return out, err
}

func (f *Fit) ratios() []Ratio {
	var out []Ratio
	for j, c := range f.Problem.Columns {
		if !c.Numeric && c.Against == "" {
			continue
		}
		kind := ""
		switch f.Problem.Kind(c.Part) {
		case likelihood.Logit:
			kind = "odds ratio"
		case likelihood.Rate, likelihood.CLogLog:
			kind = "rate ratio"
		case likelihood.Log:
			kind = "ratio"
		default:
			continue
		}
		k := f.Coefficients[j]
		r := Ratio{Part: c.Part, Term: c.Term, Against: c.Against, Kind: kind, PerUnit: f.exponential(k.Estimate, k.SE, k.Status), PerSD: NoEstimate(Absent)}
		if c.Numeric {
			// PerSD is the coefficient times a factor; so is its standard error.
			r.PerSD = f.exponential(k.PerSD, k.SE*math.Abs(k.PerSD/k.Estimate), k.Status)
		}
		out = append(out, r)
	}
	return out
}

// exponential is exp(v) with its interval made on the scale of v.
func (f *Fit) exponential(v, se float64, s Status) Estimate {
	if math.IsNaN(v) || math.IsNaN(se) {
		return NoEstimate(s)
	}
	x := math.Exp(v)
	return Estimate{Value: x, SE: x * se, Low: math.Exp(v - f.z*se), High: math.Exp(v + f.z*se), Status: s, Method: "log"}
}

// paces: with survival exp(−rate × length), the survival of another length c
// is the reach's to the power c/length; its interval is the reach's, so raised.
func (f *Fit) paces() []Pace {
	link := f.Problem.Spec.SurvivalLink
	if link != "per km" && link != "per day" {
		return nil
	}
	p := f.Problem
	var out []Pace
	for _, s := range f.Survival {
		pace := Pace{Of: s.Of, From: s.From, Length: 10, Unit: "km"}
		length := p.Histories.River.ReachKm(s.From)
		if link == "per day" {
			pace.Length, pace.Unit, length = 1, "day", p.Histories.River.Sites[s.From+1].Days
		}
		power := pace.Length / length
		pace.Estimate = s.Estimate
		pace.Value = math.Pow(s.Value, power)
		pace.SE = power * math.Pow(s.Value, power-1) * s.SE
		pace.Low, pace.High = math.Pow(s.Low, power), math.Pow(s.High, power)
		out = append(out, pace)
	}
	return out
}

// relative compares every later cohort with the first at every site.
func (f *Fit) relative(ctx context.Context) ([]Relative, error) {
	var out []Relative
	cohorts := f.Problem.Histories.Cohorts
	fresh, _ := f.fishGroups()
	for _, c := range cohorts[1:] {
		for k := 1; k < f.Problem.Layout.Sites(); k++ {
			x, y := f.passedBy(c, k), f.passedBy(cohorts[0], k)
			if x == nil || y == nil {
				continue
			}
			e, err := f.ratio(ctx, x, y, fresh)
			if err != nil {
				return nil, err
			}
			out = append(out, Relative{c, cohorts[0], k, e})
		}
	}
	return out, nil
}

// passedBy is the row of a cohort at site k; nil where there is none.
func (f *Fit) passedBy(cohort string, k int) *Passed {
	for i := range f.Passed {
		p := &f.Passed[i]
		if p.Site == k && len(p.Of) == 1 && p.Of[0] == (Category{model.Cohort, cohort}) {
			return p
		}
	}
	return nil
}

// RelativePassed is the passed share of cohort a over that of cohort b at site
// k, with the covariance of the two, its interval symmetric on the log scale; by
// profile likelihood where one of them hangs on an estimate at 0 or 1. Status Held
// says that the model has the two alike; with no value, Boundary that no limits were
// found, and Inseparable that nobody of either was detected at the site or below.
func (f *Fit) RelativePassed(a, b string, k int) (Relative, error) {
	if err := f.Check(); err != nil {
		return Relative{}, err
	}
	x, y := f.passedBy(a, k), f.passedBy(b, k)
	if x == nil || y == nil {
		return Relative{}, fmt.Errorf("cohorts %q and %q cannot be compared at site %d: one of them has no passed share there", a, b, k)
	}
	fresh, _ := f.fishGroups()
	e, err := f.ratio(context.Background(), x, y, fresh)
	return Relative{a, b, k, e}, err
}

// ratio is the passed share of row x over that of row y.
func (f *Fit) ratio(ctx context.Context, x, y *Passed, fresh []likelihood.FishGroup) (Estimate, error) {
	v, w := x.PassedShare.Value, y.PassedShare.Value
	if math.IsNaN(v) || math.IsNaN(w) || w == 0 || v == 0 {
		if x.PassedShare.Status == TooEarly || y.PassedShare.Status == TooEarly {
			return NoEstimate(TooEarly), nil
		}
		return NoEstimate(Inseparable), nil
	}
	grad := make([]float64, f.Parameters)
	for j := range grad {
		grad[j] = x.grad[j]/v - y.grad[j]/w
	}
	se := math.Sqrt(f.variance(grad))
	e := f.exponential(math.Log(v/w), se, Estimated)
	if x.PassedShare.Status == Borrowed || y.PassedShare.Status == Borrowed {
		e.Status = Borrowed
	}
	if len(f.limits) == 0 {
		if se < 1e-9 {
			e = Estimate{Value: v / w, SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Status: Held}
		}
		return e, nil
	}
	a, b := f.shareOf(x, fresh), f.shareOf(y, fresh)
	if a.Key(f.Problem.Design) == b.Key(f.Problem.Design) && a.Key(f.Problem.Design) != "" {
		return Estimate{Value: v / w, SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Status: Held}, nil
	}
	hangs, err := f.besideLimit(ctx, grad)
	if err != nil || !hangs && !f.about(a).bounded && !f.about(b).bounded {
		return e, err
	}
	if x.KnownPassed == 0 && y.KnownPassed == 0 {
		// Of two shares that both may be next to 0 the ratio may be anything.
		return NoEstimate(Inseparable), nil
	}
	if e.Low, e.High, err = f.ratioLimits(ctx, a, b, v/w); err != nil {
		return e, err
	}
	if e.Method = "profile"; math.IsNaN(e.Low) || math.IsNaN(e.High) {
		return NoEstimate(Boundary), nil
	}
	if !(se > 0) {
		e.SE, e.Status = math.NaN(), Boundary
	}
	return e, nil
}

// shareOf is the quantity of a row's passed share.
func (f *Fit) shareOf(row *Passed, fresh []likelihood.FishGroup) *likelihood.Quantity {
	for _, gr := range f.passedGroups() {
		if len(gr.of) == len(row.Of) && sameCategories(gr.of, row.Of) {
			return meanQuantity(&gr, fresh, row.Site, f.above(row.Site))
		}
	}
	return nil
}

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

// ByStretch tells whether movement differs between stretches of the river.
func ByStretch(movement []Movement) bool {
	return len(movement) > 0 && movement[0].To != movement[len(movement)-1].To
}
