package session

import (
	"context"
	"path/filepath"

	"example.org/unseen/cjs/plan"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// Questions are what is asked of a plan besides its figures.
type Questions struct {
	// Want are precisions wanted, Power pairs of cohorts, in words.
	Want, Power []string
	// Alpha and Chance of Power; 0 are its defaults.
	Alpha, Chance float64
	// Options asks for a comparison of the plan's options, or of the standard
	// ones; Fish sets the number of fish in all, 0 is the plan's.
	Options bool
	Fish    int
	// Verify is the number of replicates to simulate, 0 is none.
	Verify int
	Seed   uint64
	// Done is called after each replicate, from several goroutines; may be nil.
	Done func()
}

// Planned is a plan with the answers to its questions.
type Planned struct {
	*Data
	Forecast *plan.Forecast
	Needs    []*plan.Need
	Powers   []*plan.Power
	// Target is what the options are compared by; Comparisons and Curves are
	// nil without the question.
	Target       plan.Target
	Comparisons  []plan.Comparison
	Curves       []plan.Curve
	Verification *plan.Verification
}

// OpenPlan reads a plan file. The data hold no fish.
func OpenPlan(path string) (*Data, *study.Plan, error) {
	f, err := study.LoadPlan(path)
	if err != nil {
		return nil, nil, err
	}
	inputs := []history.Input{{File: filepath.Base(path), SHA256: f.Study.SHA256}}
	return &Data{Study: &f.Study, Result: &ingest.Result{Inputs: inputs}}, f, nil
}

// curveFactors are the numbers of fish, as factors of the plan's, over which
// half-widths are followed.
var curveFactors = []float64{0.25, 0.375, 0.5, 0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4}

// Unclear is an error in the words of a question.
type Unclear struct{ Err error }

func (u Unclear) Error() string { return u.Err.Error() }

// Plan makes the forecast of p and answers the questions. options nil are the
// standard ones.
func (d *Data) Plan(ctx context.Context, p *plan.Plan, options []plan.Option, q Questions) (*Planned, error) {
	if q.Fish > 0 {
		p = p.WithFish(q.Fish)
	}
	out := &Planned{Data: d}
	f, err := plan.New(ctx, p)
	if err != nil {
		return nil, err
	}
	out.Forecast, out.Target = f, f.DefaultTarget()
	for i, words := range q.Want {
		t, err := p.ParseWant(words)
		if err != nil {
			return nil, Unclear{err}
		}
		if i == 0 {
			out.Target = t
		}
		n, err := f.Need(ctx, t)
		if err != nil {
			return nil, err
		}
		out.Needs = append(out.Needs, n)
	}
	for _, words := range q.Power {
		c, err := f.ParseContrast(words)
		if err != nil {
			return nil, Unclear{err}
		}
		c.Alpha, c.Chance = q.Alpha, q.Chance
		x, err := f.Power(ctx, c)
		if err != nil {
			return nil, Unclear{err}
		}
		out.Powers = append(out.Powers, x)
	}
	if q.Options {
		if options == nil {
			options = p.StandardOptions()
		}
		if out.Comparisons, err = f.Compare(ctx, out.Target, options); err != nil {
			return nil, err
		}
		if out.Curves, err = f.Curves(ctx, out.Target, options, curveFactors); err != nil {
			return nil, err
		}
	}
	if q.Verify > 0 {
		if out.Verification, err = f.Verify(ctx, q.Verify, q.Seed, q.Done); err != nil {
			return nil, err
		}
	}
	return out, nil
}
