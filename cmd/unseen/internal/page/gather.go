package page

import (
	"context"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/history/growth"
)

// Gather asks of a fit all that a report shows besides. done is told of the
// models compared and may be nil.
func Gather(ctx context.Context, f *analysis.Fitted, opt analysis.Options, done func(n, of int)) (*Content, error) {
	d := f.Data
	out := &Content{Fitted: f, Assess: assess.OfModel(f.Fit.Problem), Covariates: assess.Covariates(f.Fit)}
	var err error
	if specs := d.Specs(); len(specs) > 1 {
		if out.Compare, err = d.Compare(ctx, specs, opt, done, f.Fit); err != nil {
			return nil, err
		}
	}
	if out.Growth, out.Recaptures, err = d.Growth(ctx, growth.Options{}); err != nil {
		if d.Study.Recaptures != nil {
			return nil, err
		}
		out.Growth = nil // no lengths, no weights: nothing was asked
	}
	if d.Histories.First != nil {
		if out.Travel, err = f.Travel(ctx, travel.Options{}); err != nil {
			return nil, err
		}
	}
	return out, nil
}
