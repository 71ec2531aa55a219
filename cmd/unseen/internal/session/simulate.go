package session

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/simulate"
)

// Simulated is a study whose samples are fitted.
type Simulated struct {
	*Data
	Study *simulate.Study
	// Source says where the truth is from.
	Source string
	// Result of the replicates; nil where there were none.
	Result *simulate.Result
}

// Simulation prepares the study that takes the estimates of the chosen model,
// or where truth is not nil a plan, for true, and fits the chosen model.
func (d *Data) Simulation(ctx context.Context, spec model.Spec, opt Options, truth *plan.Plan) (*Simulated, error) {
	in, err := d.Input()
	if err != nil {
		return nil, err
	}
	s := &simulate.Study{Name: d.Study.Title, Spec: spec, Holds: in.Holds, Conditions: in.Conditions, Options: opt.Options}
	out := &Simulated{Data: d, Study: s, Source: "the plan"}
	if truth != nil {
		s.Truth = *TruthOfPlan(truth)
		if err := sameRiver(d, &s.Truth); err != nil {
			return nil, err
		}
	} else {
		f, err := d.Fit(ctx, spec, opt)
		if err != nil {
			return nil, err
		}
		if f.Fit.Verdict != cjs.Converged {
			return nil, fmt.Errorf("the fit did not converge, so its estimates are nothing to simulate from; see unseen fit, or give --truth")
		}
		s.Truth, out.Source = *simulate.TruthOf(f.Fit), "the estimates of the model"
	}
	return out, s.Truth.Check()
}

// SimulationOfPlan is [Data.Simulation] of a plan file alone.
func (d *Data) SimulationOfPlan(p *plan.Plan, spec model.Spec, opt Options) (*Simulated, error) {
	s := &simulate.Study{Name: p.Title, Truth: *TruthOfPlan(p), Spec: spec, Holds: p.Holds, Options: opt.Options}
	return &Simulated{Data: d, Study: s, Source: "the plan"}, s.Truth.Check()
}

// TruthOfPlan takes what a plan supposes, ranges at their middle, for true.
func TruthOfPlan(p *plan.Plan) *simulate.Truth {
	t := &simulate.Truth{River: p.River}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		x := simulate.Cohort{Name: c.Name, Fish: c.Fish, Entry: c.Entry, Removed: p.Removed}
		for _, v := range c.Survival {
			x.Survival = append(x.Survival, p.Values[v].Middle())
		}
		for _, v := range c.Detection {
			x.Detection = append(x.Detection, p.Values[v].Middle())
		}
		t.Cohorts = append(t.Cohorts, x)
	}
	for _, x := range p.TestPasses {
		t.TestPasses = append(t.TestPasses, simulate.TestPasses{Row: x.Row, Passes: x.Passes})
	}
	return t
}

// sameRiver checks that a truth has the sites and rows of the study, since the
// study's model and holds are about them.
func sameRiver(d *Data, t *simulate.Truth) error {
	words := func(sites int, label func(int) string, rows int) (out []string) {
		for k := range sites {
			out = append(out, label(k))
		}
		return append(out, fmt.Sprint(rows, " rows"))
	}
	a, b := &d.Histories.River, &t.River
	have := words(len(a.Sites), func(k int) string { return a.Sites[k].Name }, a.Rows())
	want := words(len(b.Sites), func(k int) string { return b.Sites[k].Name }, b.Rows())
	if fmt.Sprint(have) != fmt.Sprint(want) {
		return fmt.Errorf("the study has the sites %v, the truth %v; they must be the same", have, want)
	}
	return nil
}

// Level is that of the intervals.
func (s *Simulated) Level() float64 {
	if s.Study.Options.Level == 0 {
		return 0.95
	}
	return s.Study.Options.Level
}
