package cjs

import (
	"context"
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// Curve is a predicted probability over the observed range of one number, all
// others at their mean.
type Curve struct {
	Part model.Part // survival or detection
	Of   []Category // the fish; empty for all
	// From is the site the reach starts at (survival) or the site (detection).
	From   int
	Row    int // within a divided site, else −1
	Number string
	Points []CurvePoint
}

// CurvePoint is the prediction at one value of the number.
type CurvePoint struct {
	Value float64 // in the column's own unit
	Estimate
}

// Ratio is the exponential of a coefficient: an odds ratio on the logit link,
// a rate ratio on a rate link.
type Ratio struct {
	Part model.Part // survival or detection
	Term string     // in canonical form
	// Against is the level a contrast is measured against; "" for a number.
	Against string
	Kind    string // "odds ratio" or "rate ratio"; "ratio" of drift, spread and rest's way
	// PerUnit is the ratio for one unit of the number (or of the contrast),
	// PerSD for one standard deviation, with intervals made on the log scale.
	PerUnit, PerSD Estimate
}

// Pace is survival per standard length of a reach under a rate link.
type Pace struct {
	Of   []Category // the fish; empty for all
	From int        // index of the site at the upper end of the reach
	// Length is 10 (km) or 1 (day), Unit "km" or "day".
	Length float64
	Unit   string
	Estimate
}

// Relative is the passed share of one cohort over that of another at a site.
type Relative struct {
	Cohort, Against string // the cohort, and the one it is compared with
	Site            int    // index in the river's sites
	// Estimate is the ratio; its interval is symmetric on the log scale.
	Estimate
}

// Effects are what the coefficients mean to people.
type Effects struct {
	Curves   []Curve    // of each number in the model
	Ratios   []Ratio    // odds or rate ratios of each term
	Paces    []Pace     // survival per length, under a rate
	Relative []Relative // passed shares of cohorts relative to the first
}

// curvePoints is how many points a curve has.
const curvePoints = 21

// Effects computes the effects of the fitted model. A curve has hundreds of
// points, and profile likelihood for each would take minutes: their intervals
// are on the logit scale where that is possible, as their method says.
func (f *Fit) Effects(ctx context.Context) (*Effects, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	e := &Effects{Ratios: f.ratios(), Paces: f.paces()}
	quick := *f
	quick.Options.Interval = "logit"
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
	return out, nil
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
// says that the model has the two alike, and Boundary, with no value, that no limits
// were found.
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
	hangs, err := f.besideLimit(ctx, grad)
	if err != nil || !hangs && !f.about(a).bounded && !f.about(b).bounded {
		return e, err
	}
	if a.Key(f.Problem.Design) == b.Key(f.Problem.Design) && a.Key(f.Problem.Design) != "" {
		return Estimate{Value: v / w, SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Status: Held}, nil
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
