package analysis

import (
	"context"
	"errors"
	"path/filepath"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/history"
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

// Planning is a plan with where it comes from.
type Planning struct {
	Source
	Plan *plan.Plan // the plan
	// File is the plan file, or that of the study fitted; its sites, holds and
	// models.
	File *study.Study
	// Options to compare; nil are the standard ones.
	Options []plan.Option
	// Want is the precision that the plan file asks for, in words; "" is none.
	Want    string
	wantPos study.Pos
}

// Planned is a plan with the answers to its questions.
type Planned struct {
	Source
	Forecast *plan.Forecast // the precision to expect
	Needs    []*plan.Need   // sample sizes of the precisions asked for
	Powers   []*plan.Power  // of the comparisons asked for
	// Target is what the options are compared by; Comparisons and Curves are
	// nil without the question.
	Target       plan.Target
	Comparisons  []plan.Comparison
	Curves       []plan.Curve
	Verification *plan.Verification
}

// OpenPlan reads a plan file.
func OpenPlan(path string) (*Planning, error) {
	f, err := plan.Load(path)
	if err != nil {
		return nil, err
	}
	p, err := plan.FromFile(f)
	if err != nil {
		return nil, err
	}
	inputs := []history.Input{{File: filepath.Base(path), SHA256: f.Study.SHA256}}
	return &Planning{Source: Source{Path: path, Title: f.Study.Title, Location: time.UTC, Inputs: inputs},
		Plan: p, File: &f.Study, Options: f.Options, Want: f.Want, wantPos: f.WantPos}, nil
}

// Plan is the plan of a season like the one of the fit, but for outages.
func (f *Fitted) Plan() (*Planning, error) { return f.planned(plan.FromFit) }

// PlanWithOutages is the plan of a season like it in which rows work for the same
// share of the passages.
func (f *Fitted) PlanWithOutages() (*Planning, error) { return f.planned(plan.FromFitWithOutages) }

func (f *Fitted) planned(from func(*cjs.Fit) (*plan.Plan, error)) (*Planning, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	if f.Fit.Verdict != cjs.Converged {
		return nil, &Error{ID: NotConverged, Name: "plan", Path: f.Study.Path}
	}
	p, err := from(f.Fit)
	if err != nil {
		return nil, err
	}
	p.Title = f.Study.Title
	return &Planning{Source: f.Source(), Plan: p, File: f.Study}, nil
}

var errUnplanned = errors.New("there is no plan; OpenPlan reads one, and Fitted.Plan makes one")

// Check refuses what neither [OpenPlan] nor a fit gave.
func (p *Planning) Check() error {
	if p == nil || p.Plan == nil {
		return errUnplanned
	}
	return nil
}

// Choose takes the chosen model for that of the plan.
func (p *Planning) Choose(c Choice) (err error) {
	if err := p.Check(); err != nil {
		return err
	}
	if p.File == nil {
		return errUnplanned
	}
	p.Plan.Spec, err = chosen(c, specsOf(p.File.Models), p.Path)
	return err
}

// Complete takes the options of a fit that a plan has too; level 0 is the
// plan's own.
func (p *Planning) Complete(opt Options) error {
	if err := p.Check(); err != nil {
		return err
	}
	if opt.EstimateInflation {
		return &Error{ID: NotANumber, Path: p.Path}
	}
	if opt.Level != 0 {
		p.Plan.Level = opt.Level
	}
	p.Plan.VarianceInflation = opt.VarianceInflation
	return nil
}

// curveFactors are the numbers of fish, as factors of the plan's, over which
// half-widths are followed.
var curveFactors = []float64{0.25, 0.375, 0.5, 0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4}

// Ask makes the forecast of the plan and answers the questions; without a
// precision wanted, that of the plan file.
func (p *Planning) Ask(ctx context.Context, q Questions) (*Planned, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	x := p.Plan
	if q.Fish > 0 {
		x = x.WithFish(q.Fish)
	}
	if len(q.Want) == 0 && p.Want != "" {
		if _, err := x.ParseWant(p.Want); err != nil {
			return nil, history.Fault{Pos: p.wantPos, Message: "want: " + err.Error()}
		}
		q.Want = []string{p.Want}
	}
	f, err := plan.New(ctx, x)
	if err != nil {
		return nil, err
	}
	out := &Planned{Source: p.Source, Forecast: f, Target: f.DefaultTarget()}
	if err := out.needs(ctx, q.Want); err != nil {
		return nil, err
	}
	if err := out.powers(ctx, q); err != nil {
		return nil, err
	}
	if q.Options {
		if err := out.compare(ctx, p.Options); err != nil {
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

func (d *Planned) needs(ctx context.Context, want []string) error {
	for i, words := range want {
		t, err := d.Forecast.Plan.ParseWant(words)
		if err != nil {
			return &Error{ID: Unclear, Name: words, Cause: err}
		}
		if i == 0 {
			d.Target = t
		}
		n, err := d.Forecast.Need(ctx, t)
		if err != nil {
			return err
		}
		d.Needs = append(d.Needs, n)
	}
	return nil
}

func (d *Planned) powers(ctx context.Context, q Questions) error {
	for _, words := range q.Power {
		c, err := d.Forecast.ParseContrast(words)
		if err != nil {
			return &Error{ID: Unclear, Name: words, Cause: err}
		}
		c.Alpha, c.Chance = q.Alpha, q.Chance
		x, err := d.Forecast.Power(ctx, c)
		if err != nil {
			return &Error{ID: Unclear, Name: words, Cause: err}
		}
		d.Powers = append(d.Powers, x)
	}
	return nil
}

func (d *Planned) compare(ctx context.Context, options []plan.Option) (err error) {
	if options == nil {
		options = d.Forecast.Plan.StandardOptions()
	}
	if d.Comparisons, err = d.Forecast.Compare(ctx, d.Target, options); err != nil {
		return err
	}
	d.Curves, err = d.Forecast.Curves(ctx, d.Target, options, curveFactors)
	return err
}
