package analysis

import (
	"context"
	"errors"
	"fmt"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/simulate"
)

// Simulating says what a simulation is of. The zero value takes the estimates of
// the model for true, and the rows for at work when the study says so.
type Simulating struct {
	// Truth, where not nil, is a plan that is taken for true.
	Truth *plan.Plan
	// Outages are more of them, in words; they need times, which
	// a plan does not have.
	Outages []string
	// Undeclared: the fits are not told of these.
	Undeclared bool
}

// Simulation prepares the study of what is simulated, to each sample of which spec
// is fitted.
func (d *Data) Simulation(ctx context.Context, spec model.Spec, opt Options, of Simulating) (*Simulated, error) {
	in, err := d.Input()
	if err != nil {
		return nil, err
	}
	s := &simulate.Study{Name: d.Study.Title, Spec: spec, Holds: in.Holds, Conditions: in.Conditions, Options: opt.Options}
	out := &Simulated{Source: d.Source(), Study: s, File: d.Study, Truth: "the plan"}
	if of.Truth != nil {
		if len(of.Outages) > 0 {
			return nil, errOutageOfPlan()
		}
		if err := of.Truth.AlwaysWorks(); err != nil {
			return nil, &Error{ID: Unclear, Cause: err}
		}
		if err := of.Truth.Check(); err != nil {
			return nil, err
		}
		s.Truth = *truthOfPlan(of.Truth)
		if err := sameRiver(d, &s.Truth); err != nil {
			return nil, err
		}
		return out, s.Truth.Check()
	}
	f, err := d.Fit(ctx, spec, opt)
	if err != nil {
		return nil, err
	}
	if f.Fit.Verdict != cjs.Converged {
		return nil, &Error{ID: NotConverged, Name: "simulation", Path: d.Study.Path}
	}
	truth := simulate.TruthOf(f.Fit)
	if len(of.Outages) > 0 && !f.Fit.Problem.Timed() {
		if truth, err = d.withTimes(ctx, spec, opt); err != nil {
			return nil, err
		}
	}
	s.Truth, out.Truth = *truth, "the estimates of the model"
	s.Declared, s.Undeclared = truth.Working, of.Undeclared && len(of.Outages) > 0
	if err := out.stop(of.Outages, func(site int) *time.Location { return d.Study.Sites[site].Location }); err != nil {
		return nil, err
	}
	return out, s.Truth.Check()
}

// Simulation is [Data.Simulation] of a plan alone, which fits its model.
func (p *Planning) Simulation(opt Options, of Simulating) (*Simulated, error) {
	if len(of.Outages) > 0 {
		return nil, errOutageOfPlan()
	}
	if err := p.Check(); err != nil {
		return nil, err
	}
	x := p.Plan
	if err := x.AlwaysWorks(); err != nil {
		return nil, &Error{ID: Unclear, Cause: err}
	}
	s := &simulate.Study{Name: x.Title, Truth: *truthOfPlan(x), Spec: x.Spec, Holds: x.Holds, Options: opt.Options}
	return &Simulated{Source: p.Source, Study: s, File: p.File, Truth: "the plan"}, s.Truth.Check()
}

// errOutageOfPlan refuses an outage in what has no times.
func errOutageOfPlan() error {
	return &Error{ID: Unclear, Cause: errors.New("a plan has no times of release, so no fish pass in an outage; simulate a study")}
}

// truthOfPlan takes what a plan supposes, ranges at their middle, for true.
func truthOfPlan(p *plan.Plan) *simulate.Truth {
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
		return &Error{ID: OtherRiver, Name: fmt.Sprint(have), Known: want}
	}
	return nil
}

// Level is that of the intervals.
func (s *Simulated) Level() float64 {
	if s.Study == nil || s.Study.Options.Level == 0 {
		return 0.95
	}
	return s.Study.Options.Level
}
