package plan

import (
	"context"
	"fmt"
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/simulate"
)

// Verified sets a line of the forecast beside what simulation shows.
type Verified struct {
	Line
	// Given is the number of replicates with an estimate.
	Given int
	// SE is the real spread of the estimates, Ratio the expected standard
	// error over it; NoiseSE is the Monte Carlo standard error of SE.
	SimulatedSE, NoiseSE, Ratio float64
	// Bias is the mean of estimate − truth.
	Bias float64
	// Coverage is the share of the intervals that contain the true value.
	Coverage float64
	// Off: the large-sample figure is more than a tenth away from the
	// simulated one.
	Off bool
}

// offBy: expected standard errors farther from the simulated ones than this
// share are said to be off.
const offBy = 0.1

// Verification is what simulating a plan shows.
type Verification struct {
	Replicates int            // simulated
	Failed     map[string]int // why → replicates without a fit
	Lines      []Verified
}

// Verify simulates the plan at the middle of its ranges, fits every replicate,
// and sets the real spread of the estimates beside the expected standard
// errors. When ctx ends it returns what was finished with the context's error.
// done, where not nil, is called after each replicate, from several goroutines.
func (f *Forecast) Verify(ctx context.Context, replicates int, seed uint64, done func()) (*Verification, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	p := f.Plan
	if len(p.Categories) > 0 {
		return nil, fmt.Errorf("plans whose fish differ by more than the cohort (%s) cannot be simulated yet", p.Categories[0])
	}
	if err := p.AlwaysWorks(); err != nil {
		return nil, err
	}
	study := simulate.Study{Name: "plan", Truth: p.truth(f.state), Spec: p.Spec, Options: cjs.Options{Level: p.level(), EstimatesOnly: true},
		Holds: p.Holds, Conditions: p.Conditions, Seed: seed}
	r, err := study.Run(ctx, 1, replicates, done)
	if r == nil {
		return nil, err
	}
	v := &Verification{Replicates: r.Replicates, Failed: r.Failed}
	for _, l := range f.Lines() {
		if l.Kind == Product || math.IsNaN(l.SE) {
			continue
		}
		x := Verified{Line: l, SimulatedSE: math.NaN(), NoiseSE: math.NaN(), Ratio: math.NaN(), Bias: math.NaN(), Coverage: math.NaN()}
		of, at := "", p.River.Sites[l.Site].Name
		if len(l.Of) > 0 {
			of = l.Of[0].Level
		}
		if l.Kind == Survival {
			at = p.River.Reach(l.From)
		}
		if l.Row >= 0 {
			at = p.River.RowLabel(p.River.FirstRow(l.Site) + l.Row)
		}
		for i := range r.Quantities {
			q := &r.Quantities[i]
			if q.Kind != string(l.Kind) || q.Of != of || q.At != at || q.Given < 2 {
				continue
			}
			x.Given, x.SimulatedSE, x.Bias = q.Given, q.SD, q.Bias
			x.NoiseSE = q.SD / math.Sqrt(2*float64(q.Given-1))
			// Simulated fish vary as the model says, without inflation.
			se := l.SE / math.Sqrt(max(1, p.VarianceInflation))
			x.Ratio = se / q.SD
			x.Off = math.Abs(se-q.SD) > offBy*q.SD
			if q.Intervals > 0 {
				x.Coverage = q.Coverage()
			}
		}
		v.Lines = append(v.Lines, x)
	}
	return v, err
}

// truth is the plan as something to simulate, with the probabilities the model
// was settled at.
func (p *Plan) truth(s *state) simulate.Truth {
	t := simulate.Truth{River: p.River}
	design, l := s.problem.Design, s.problem.Layout
	z := make([]float64, design.Numbers)
	z[0] = 1
	for i := range p.Cohorts {
		c, g := &p.Cohorts[i], int(s.problem.ClassOf[i])
		x := simulate.Cohort{Name: c.Name, Fish: c.Fish, Entry: c.Entry, Removed: p.Removed}
		for k := range l.Sites() - 1 {
			x.Survival = append(x.Survival, design.Prob(s.x, g, l.Survival(k), z).P)
		}
		for b := range l.RowCount() {
			x.Detection = append(x.Detection, design.Prob(s.x, g, l.Detection(b), z).P)
		}
		t.Cohorts = append(t.Cohorts, x)
	}
	for _, x := range p.TestPasses {
		t.TestPasses = append(t.TestPasses, simulate.TestPasses{Row: x.Row, Passes: x.Passes})
	}
	return t
}
