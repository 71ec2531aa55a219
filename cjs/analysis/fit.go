package analysis

import (
	"context"
	"errors"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/whatif"
)

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
			return cjs.Options{}, &Error{ID: NoInflation}
		}
		opt.VarianceInflation, opt.InflationEstimated = factor, true
	}
	return opt.Options, nil
}

// Fitted is a study with a model fitted to it.
type Fitted struct {
	*Data
	Fit     *cjs.Fit     // the fit
	Effects *cjs.Effects // of the terms of its model
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

// Check refuses what [Data.Fit] did not give.
func (f *Fitted) Check() error {
	if f == nil {
		return errors.New("nothing was fitted; Data.Fit fits")
	}
	if err := f.Data.Check(); err != nil {
		return err
	}
	return f.Fit.Check()
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
	e, err := f.Effects(ctx)
	if err != nil {
		return nil, err
	}
	out := &Fitted{Data: d, Fit: f, Effects: e}
	if d.Running() {
		if p, err = model.Build(in.SeasonOver(spec), spec); err != nil {
			return nil, err
		}
		if out.Plain, err = cjs.New(ctx, p, opt); err != nil {
			return nil, err
		}
	}
	return out, nil
}
