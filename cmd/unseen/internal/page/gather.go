package page

import (
	"context"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/growth"
)

// Content is what a report is made of. All but Fitted may be nil.
type Content struct {
	*analysis.Fitted
	Compare    *compare.Result
	Assess     *assess.Result
	Covariates []assess.Covariate
	Travel     *travel.Result
	Season     *analysis.Season
	Growth     *growth.Result
	Recaptures *growth.Recaptures
	// Changes since an earlier result.
	Changes *view.Page
	// Version of the program and the Command that makes the same report.
	Version, Command string
}

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
