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
// counts taken as they are (test passes): they are made while rows work, and the
// detection of the fit is that at full work, whatever the Work of the releases.
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
	idle := slices.ContainsFunc(releases, func(r likelihood.Released) bool { return r.Work != nil })
	data := &likelihood.Data{Units: slices.Clone(fixed)}
	for i := 0; i < len(releases) && !idle; i++ {
		r := &releases[i]
		data.Units = append(data.Units, likelihood.Expected(p.Design, x, r.Class, r.Z, r.At))
	}
	var at likelihood.Point
	likelihood.NewCJS(p.Design, data).Eval(x, 2, &at)
	if idle {
		floats.Sub(at.H, likelihood.ExpectedAtWork(p.Design, x, releases))
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

// checkWork refuses sets of rows at work that l is not of.
func checkWork(l *likelihood.Layout, work [][]likelihood.Work) error {
	if work != nil && len(work) != l.Sites() {
		return fmt.Errorf("rows at work at %d sites; there are %d", len(work), l.Sites())
	}
	for k, sets := range work {
		from, to := l.SiteRows(k)
		total := 0.0
		for _, w := range sets {
			if !(w.Share >= 0) || w.Rows>>uint(from)<<uint(from) != w.Rows || w.Rows>>uint(to) != 0 {
				return fmt.Errorf("rows %b work for a share of %v of the passages of site %d, whose rows are %d to %d", w.Rows, w.Share, k, from, to-1)
			}
			total += w.Share
		}
		if sets != nil && math.Abs(total-1) > 1e-9 {
			return fmt.Errorf("the shares of the passages of site %d add up to %v, not 1", k, total)
		}
	}
	return nil
}

// Determines tells whether what fit f rests on determines a quantity of
// gradient g by the coefficients, and the quantity's variance where it does.
func (f *Fit) Determines(g []float64) (variance float64, ok bool) {
	if f.Check() != nil || len(g) != len(f.X) {
		return math.NaN(), false
	}
	if f.scaled.Outside(g, hereTolerance) > determined {
		return math.NaN(), false
	}
	return f.variance(g), true
}

// checkExpected refuses coefficients, releases and fixed counts that the
// design of p is not of.
func checkExpected(p *model.Problem, x []float64, releases []likelihood.Released, fixed []likelihood.Unit) error {
	if err := p.Design.CheckColumns(x); err != nil {
		return err
	}
	units := slices.Clone(fixed)
	for i := range releases {
		if n := len(releases[i].At); n != p.Layout.Sites() {
			return fmt.Errorf("release %d has numbers of %d sites; there are %d", i, n, p.Layout.Sites())
		}
		if err := checkWork(p.Layout, releases[i].Work); err != nil {
			return fmt.Errorf("release %d: %w", i, err)
		}
		units = append(units, likelihood.Unit{Class: releases[i].Class, Z: releases[i].Z, Never: releases[i].At})
	}
	return (&likelihood.Data{Units: units}).Check(p.Design)
}
