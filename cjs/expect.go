package cjs

import (
	"context"
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// Expect is what fitting p would give on average in large samples, were x the
// truth: the estimates are their true values, the standard errors those of the
// expected information, which is minus the Hessian at the counts that the
// releases and re-releases are expected to show. p's own counts serve only as
// the numbers newly released, over which cohorts are averaged. fixed are
// counts taken as they are (test passes).
//
// The fit has no log-likelihood, verdict or warnings. Estimable is the rank of
// the design (0 with opt.EstimatesOnly, which spares its search),
// EstimableHere that of the expected information.
func Expect(ctx context.Context, p *model.Problem, x []float64, releases []likelihood.Released, fixed []likelihood.Unit, opt Options) (*Fit, error) {
	if err := opt.Check(); err != nil {
		return nil, err
	}
	if err := checkProblem(p); err != nil {
		return nil, err
	}
	if err := checkExpected(p, x, releases, fixed); err != nil {
		return nil, err
	}
	opt = opt.filled()
	data := &likelihood.Data{Units: append([]likelihood.Unit(nil), fixed...)}
	for i := range releases {
		r := &releases[i]
		data.Units = append(data.Units, likelihood.Expected(p.Design, x, r.Class, r.Z, r.At))
	}
	f := &Fit{Problem: p, Options: opt, X: x, OtherMaximum: math.NaN(), Parameters: p.Design.Columns,
		machine:       &machine{data: data, design: p.Design, z: normalQuantile(0.5 + opt.Level/2)},
		LogLikelihood: math.NaN(), MinusTwoLogLikelihood: math.NaN(), AICc: math.NaN()}
	var at likelihood.Point
	likelihood.NewCJS(p.Design, data).Eval(x, 2, &at)
	f.inform(at.H)
	if err := f.judge(at.G); err != nil {
		return nil, err
	}
	f.Verdict, f.Distance = "", math.NaN()
	// What the design could tell is a matter of these releases, not of p's.
	f.interior, f.designInfo = likelihood.DesignInformation(p.Design, releases, fixed)
	if !opt.EstimatesOnly {
		f.Estimable = likelihood.DesignRank(p.Design, releases, fixed)
	}
	f.coefficients()
	f.Options.EstimatesOnly = true // no counts of fish were observed
	if err := f.estimates(ctx); err != nil {
		return nil, err
	}
	if err := f.products(ctx); err != nil {
		return nil, err
	}
	f.Options = opt
	return f, nil
}

// Determines tells whether what fit f rests on determines a quantity of
// gradient g by the coefficients, and the quantity's variance where it does.
func (f *Fit) Determines(g []float64) (variance float64, ok bool) {
	if f.scaled.Outside(g, hereTolerance) > determined {
		return math.NaN(), false
	}
	return f.variance(g), true
}
