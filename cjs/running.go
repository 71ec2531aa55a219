package cjs

import (
	"context"
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// Movement is drift and spread of a group of migrants, from the first-passage
// law of their times.
type Movement struct {
	Of     []Category
	At     []Covariate
	Drift  Estimate // km/day
	Spread Estimate // km/√day
}

// TooEarlySE: where the expected standard error of a probability, on the logit
// scale, is above this, the data end too early to tell slow from dead, and no
// point is given. Around one half it makes the interval reach from 31 to 69 %;
// beyond it the estimates of the season study (docs/validation.md) are biased
// and their large-sample intervals too short.
const TooEarlySE = 0.4

// movement fills Movement.
func (f *Fit) movement(ctx context.Context) error {
	p := f.Problem
	if !p.Running() {
		return nil
	}
	l := p.Layout
	for _, gr := range groups(p, p.MovementCategories) {
		m := Movement{Of: gr.of, At: append(f.covariates(model.Drift), f.covariates(model.Spread)...)}
		for _, one := range []struct {
			slot int
			e    *Estimate
		}{{l.Drift(), &m.Drift}, {l.Spread(), &m.Spread}} {
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
		f.Movement = append(f.Movement, m)
	}
	return ctx.Err()
}

// running is what a fit needs to know of a season that still runs.
type running struct {
	f      *Fit
	by     []likelihood.Passage // newly released fish: come by the end of the data
	unseen []likelihood.Passage // waiting fish: passed unseen by then
	// expected is the inverse of the expected information of these releases.
	expected []float64
}

// newRunning is nil when the season is over.
func (f *Fit) newRunning() *running {
	p := f.Problem
	if !p.Running() {
		return nil
	}
	r := &running{f: f}
	fresh, all := p.NewReleases(), p.Releases()
	r.by = likelihood.SurvivedBy(f.design, f.X, fresh)
	r.unseen = likelihood.UnseenBy(f.design, f.X, p.Data.Waits)
	if s, ok := likelihood.Decompose(likelihood.ExpectedInformation(f.design, f.X, all, p.TestUnits()), f.Parameters); ok {
		r.expected = s.Inverse(hereTolerance)
	}
	return r
}

// row adds to a row of the passed table what has passed so far and what is
// still to pass.
func (r *running) row(gr *group, row *Passed) {
	f := r.f
	whole := row.PassedShare
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

// early tells whether these releases, by their expected information, leave a
// probability of value v and gradient grad so uncertain that no point is given.
func (r *running) early(v float64, grad []float64) bool {
	if !(v > 0 && v < 1) || r.expected == nil {
		return true
	}
	n := r.f.Parameters
	var sum float64
	for i, a := range grad {
		if a == 0 {
			continue
		}
		for j, b := range grad {
			sum += a * r.expected[i*n+j] * b
		}
	}
	return !(math.Sqrt(sum)/(v*(1-v)) < TooEarlySE)
}
