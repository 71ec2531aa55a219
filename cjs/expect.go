package cjs

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// Expect is what fitting p would give on average in large samples, were x the
// truth: the estimates are their true values, the standard errors those of the
// expected information, which is minus the Hessian at the counts that the
// releases and re-releases are expected to show. p's own counts serve only as
// the numbers newly released, over which cohorts are averaged. fixed are
// counts taken as they are (test passes). share, where not nil, is by class and
// numbered row what row is at work for of the passages of the fish, taken as
// known, each row's by itself; test passes are made while rows work, and the
// detection of the fit is that at full work.
//
// The fit has no log-likelihood, verdict or warnings. Estimable is the rank of
// the design (0 with opt.EstimatesOnly, which spares its search),
// EstimableHere that of the expected information.
func Expect(ctx context.Context, p *model.Problem, x []float64, releases []likelihood.Released, fixed []likelihood.Unit, share [][]float64, opt Options) (*Fit, error) {
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
	of, err := AtShare(p.Design, share)
	if err != nil {
		return nil, err
	}
	data := &likelihood.Data{}
	if share == nil {
		data.Units = append(data.Units, fixed...)
	}
	for i := range releases {
		r := &releases[i]
		data.Units = append(data.Units, likelihood.Expected(of, x, r.Class, r.Z, r.At))
	}
	var at, tests likelihood.Point
	likelihood.NewCJS(of, data).Eval(x, 2, &at)
	if share != nil {
		likelihood.NewCJS(p.Design, &likelihood.Data{Units: fixed}).Eval(x, 2, &tests)
		floats.Add(at.G, tests.G)
		floats.Add(at.H, tests.H)
	}
	f := &Fit{Problem: p, Options: opt, X: x, OtherMaximum: math.NaN(), Parameters: p.Design.Columns,
		machine:       &machine{data: data, design: p.Design, z: normalQuantile(0.5 + opt.Level/2)},
		LogLikelihood: math.NaN(), MinusTwoLogLikelihood: math.NaN(), AICc: math.NaN()}
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

// AtShare is the design of what rows see that are at work for a share of the
// passages, by class and numbered row; nil: always.
func AtShare(d *likelihood.Design, share [][]float64) (*likelihood.Design, error) {
	if share == nil {
		return d, nil
	}
	if len(share) != d.Classes() {
		return nil, fmt.Errorf("working shares of %d classes; there are %d", len(share), d.Classes())
	}
	links := make([][]likelihood.Link, len(share))
	for g := range links {
		links[g] = slices.Clone(d.Links[g])
		if len(share[g]) != d.Layout.RowCount() {
			return nil, fmt.Errorf("working shares of %d rows; there are %d", len(share[g]), d.Layout.RowCount())
		}
		for b, v := range share[g] {
			if !(v > 0 && v <= 1) {
				return nil, fmt.Errorf("a row works for a share of %v of the passages; it is above 0 and at most 1", v)
			}
			if v < 1 {
				links[g][d.Layout.Detection(b)].Share = v
			}
		}
	}
	return d.WithLinks(links), nil
}

// Determines tells whether what fit f rests on determines a quantity of
// gradient g by the coefficients, and the quantity's variance where it does.
func (f *Fit) Determines(g []float64) (variance float64, ok bool) {
	if f.scaled.Outside(g, hereTolerance) > determined {
		return math.NaN(), false
	}
	return f.variance(g), true
}
