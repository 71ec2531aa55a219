// Package session takes a study from its file to a fit, once, for every
// command.
package session

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// Data is a study with its tables read.
type Data struct {
	Study *study.Study
	*ingest.Result
	// Conditions are those of sites on days; nil where the study has none.
	Conditions *history.Conditions
}

// Open reads the study file at path and its tables.
func Open(ctx context.Context, path string, opt ingest.Options) (*Data, error) {
	st, err := study.Load(path)
	if err != nil {
		return nil, err
	}
	return Read(ctx, st, opt)
}

// Read reads the tables of a study.
func Read(ctx context.Context, st *study.Study, opt ingest.Options) (*Data, error) {
	if !opt.AsOf.IsZero() {
		st.AsOf = opt.AsOf
	}
	r, err := ingest.Run(ctx, st, opt)
	if err != nil {
		return nil, err
	}
	d := &Data{Study: st, Result: r}
	if st.Conditions != nil {
		var inputs []history.Input
		if d.Conditions, inputs, err = ingest.ReadConditions(ctx, st); err != nil {
			return nil, err
		}
		r.Inputs = append(r.Inputs, inputs...)
	}
	return d, ctx.Err()
}

// HasSightings tells a study of sightings, whose records are accounted for,
// from one of ready histories.
func (d *Data) HasSightings() bool { return d.Study.Sightings != nil }

// Files are the paths of the study file and of every file read for it.
func (d *Data) Files() []string {
	paths := []string{d.Study.Path}
	for _, in := range d.Inputs {
		p := filepath.FromSlash(in.File)
		if !filepath.IsAbs(p) {
			p = filepath.Join(filepath.Dir(d.Study.Path), p)
		}
		paths = append(paths, p)
	}
	return paths
}

// Through is the time of the last sighting that counts; zero when the study
// has no times.
func (d *Data) Through() time.Time {
	last := int64(history.NoTime)
	for _, t := range d.Histories.Last {
		last = max(last, t)
	}
	if last == history.NoTime {
		return time.Time{}
	}
	return time.UnixMilli(last).In(d.Study.Location)
}

// Running tells whether the season still runs: the study has an as_of, before
// the end of its last_day where it has one.
func (d *Data) Running() bool {
	st := d.Study
	return !st.AsOf.IsZero() && (st.LastDay.IsZero() || st.AsOf.Before(st.LastDayEnd()))
}

// UpTo shows, in the study's zone, a moment up to which data count: by the day's
// layout where it is a day's end, else by the other.
func (d *Data) UpTo(t time.Time, byDay, byMinute string) string {
	t = t.In(d.Study.Location)
	if before := t.Add(-time.Nanosecond); before.Day() != t.Day() {
		return before.Format(byDay)
	}
	return t.Format(byMinute)
}

// Choice is the model asked for on the line: by name, or in terms. The zero
// value is the study's first model, or where it has none the default.
type Choice = model.Spec

// Spec finds the model that was chosen.
func (d *Data) Spec(c Choice) (model.Spec, error) {
	terms := c
	terms.Name = ""
	inTerms := terms != Choice{}
	switch {
	case c.Name != "" && inTerms:
		return model.Spec{}, fmt.Errorf("give a model by name or in terms, not both")
	case inTerms:
		return c, nil
	case c.Name == "" && len(d.Study.Models) == 0:
		return model.Spec{}, nil
	case c.Name == "":
		return model.SpecOf(d.Study.Models[0]), nil
	}
	names := make([]string, len(d.Study.Models))
	for i, m := range d.Study.Models {
		if m.Name == c.Name {
			return model.SpecOf(m), nil
		}
		names[i] = `"` + m.Name + `"`
	}
	if len(names) == 0 {
		return model.Spec{}, fmt.Errorf("%s has no [[model]]; give --survival and --detection", d.Study.Path)
	}
	return model.Spec{}, fmt.Errorf("%s has no model %q; its models are %s", d.Study.Path, c.Name, strings.Join(names, ", "))
}

// Input is what models are fitted to; while the season runs, times too.
func (d *Data) Input() (model.Input, error) {
	in, err := model.FromStudy(d.Study, d.Histories, d.WorkingShare, d.Conditions)
	if d.Running() {
		in.AsOf = d.Study.AsOf
	}
	return in, err
}

// Options of a fit.
type Options struct {
	cjs.Options
	// EstimateInflation takes the variance inflation from the checks of fit
	// in place of Options.VarianceInflation.
	EstimateInflation bool
}

// complete adds to the options what the study and the checks of fit say.
func (d *Data) complete(opt Options, check *assess.Result) (cjs.Options, error) {
	if r := d.Study.Retention; r != nil {
		opt.Retention.Held, opt.Retention.Kept = r.Held, r.Kept
	}
	if opt.EstimateInflation {
		factor, ok := check.VarianceInflation()
		if !ok {
			return cjs.Options{}, fmt.Errorf("the variance inflation cannot be estimated: no table of `unseen assess` can be tested; give a number")
		}
		opt.VarianceInflation, opt.InflationEstimated = factor, true
	}
	return opt.Options, nil
}

// Fitted is a study with a model fitted to it.
type Fitted struct {
	*Data
	Fit     *cjs.Fit
	Effects *cjs.Effects
	// Plain is, while the season runs, the fit that takes every fish not seen
	// again for dead or missed; nil when it is over.
	Plain *cjs.Fit
	// Replicates and what they say; nil but after a bootstrap.
	Replicates *replicate.Set
	Bootstrap  *replicate.Summary
	// WhatIf is what the answer hangs on; nil unless asked.
	WhatIf *whatif.Result
	// Opinion is what other optimisers say; nil unless asked.
	Opinion *opinion.Result
}

// Replicated gives the fit its intervals by replicates.
func (f *Fitted) Replicated(s *replicate.Set) (err error) {
	f.Replicates = s
	f.Bootstrap, err = s.Apply(f.Fit)
	return err
}

// Fit fits the chosen model.
func (d *Data) Fit(ctx context.Context, spec model.Spec, options Options) (*Fitted, error) {
	in, err := d.Input()
	if err != nil {
		return nil, err
	}
	p, err := model.Build(in, spec)
	if err != nil {
		return nil, err
	}
	opt, err := d.complete(options, assess.OfModel(p))
	if err != nil {
		return nil, err
	}
	f, err := cjs.New(ctx, p, opt)
	if err != nil {
		return nil, err
	}
	// A curve has hundreds of points; profile likelihood for each would take
	// minutes. Their method says how their intervals were made.
	quick := *f
	quick.Options.Interval = "logit"
	e, err := quick.Effects(ctx)
	if err != nil {
		return nil, err
	}
	out := &Fitted{Data: d, Fit: f, Effects: e}
	if d.Running() {
		in.AsOf = time.Time{}
		if p, err = model.Build(in, spec); err != nil {
			return nil, err
		}
		if out.Plain, err = cjs.New(ctx, p, opt); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Compare fits several models to the same fish.
func (d *Data) Compare(ctx context.Context, specs []model.Spec, options Options, done func(n, of int)) (*compare.Result, error) {
	in, err := d.Input()
	if err != nil {
		return nil, err
	}
	var check *assess.Result
	if options.EstimateInflation {
		if check, err = assess.OfModels(in, specs); err != nil {
			return nil, err
		}
	}
	opt, err := d.complete(options, check)
	if err != nil {
		return nil, err
	}
	return compare.Run(ctx, in, specs, opt, done)
}
