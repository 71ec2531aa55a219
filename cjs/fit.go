package cjs

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"slices"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

const (
	Converged    Verdict = "converged"     // less than 0.0001 standard errors from the maximum
	NotConverged Verdict = "not converged" // the numbers are no maximum likelihood estimates
)

// New fits p by maximum likelihood. It returns an error when ctx ends, when no
// probability can be given to the data, or when the options or the problem are
// not sound; a fit that did not converge is returned with its verdict.
func New(ctx context.Context, p *model.Problem, opt Options) (*Fit, error) {
	if err := opt.Check(); err != nil {
		return nil, err
	}
	if err := checkProblem(p); err != nil {
		return nil, err
	}
	if opt.Start != nil {
		if err := p.Design.CheckColumns(opt.Start); err != nil {
			return nil, fmt.Errorf("the start: %w", err)
		}
	}
	return fit(ctx, p, p.Data, opt, 0)
}

// Of tells whether f is what [New] gives for p and opt, of a problem built on the
// same input.
func (f *Fit) Of(p *model.Problem, opt Options) bool {
	return f.Check() == nil && f.Problem.Same(p) && slices.Equal(f.Problem.ClassOf, p.ClassOf) && reflect.DeepEqual(f.Options, opt.filled())
}

// from are the starts of the search.
func (f *Fit) from() [][]float64 {
	switch {
	case f.Options.Start != nil:
		return [][]float64{f.Options.Start}
	case f.Options.EstimatesOnly:
		return f.Starts()[:1]
	}
	return f.Starts()
}

func fit(ctx context.Context, p *model.Problem, data *likelihood.Data, opt Options, tries int) (*Fit, error) {
	opt = opt.filled()
	f := &Fit{Problem: p, Options: opt, Parameters: p.Design.Columns,
		machine: &machine{tries: tries, data: data, profiled: map[string]*pending{}, z: normalQuantile(0.5 + opt.Level/2)}}
	best, err := maximum.Best(ctx, p, data, f.from())
	if err != nil {
		return nil, err
	}
	f.OtherMaximum, f.maxima = best.Other, best.Hills
	f.X, f.design, f.limits, f.moved, f.edges = best.Climb.X, best.Design, best.Limits, best.Moved, best.Edges
	f.Iterations = best.Iterations
	f.LogLikelihood = best.Climb.P.F
	f.MinusTwoLogLikelihood = -2 * f.LogLikelihood
	f.inform(best.Climb.P.H)
	if err := f.judge(best.Climb.P.G); err != nil {
		return nil, err
	}
	f.EffectiveSample = effectiveSample(p)
	if !opt.EstimatesOnly {
		f.Estimable = f.designRank()
		if err := f.findLevels(ctx); err != nil {
			return nil, err
		}
	} else {
		f.Estimable = f.EstimableHere
	}
	f.AICc = f.criterion()
	f.coefficients()
	if err := f.estimates(ctx); err != nil {
		return nil, err
	}
	if f.accused != nil && f.mayTry() {
		// A profile that beats the fit shows that the fit was no maximum.
		opt.Start = f.accused
		again, err := fit(ctx, p, data, opt, tries+1)
		if err != nil {
			return nil, err
		}
		again.OtherMaximum = f.MinusTwoLogLikelihood
		again.warnAccused()
		return again, nil
	}
	if !opt.EstimatesOnly {
		f.warn()
	}
	return f, nil
}

// inform sets the information to minus the Hessian h.
func (f *Fit) inform(h []float64) {
	f.Information = make([]float64, len(h))
	for i, v := range h {
		f.Information[i] = -v
	}
}

// judge settles covariance, rank with these data and the verdict.
func (f *Fit) judge(g []float64) error {
	n := f.Parameters
	s, ok := linear.Decompose(f.Information, n)
	if !ok {
		return fmt.Errorf("the information at the answer could not be computed: the likelihood has no maximum these data can show")
	}
	f.scaled = s
	f.EstimableHere = f.rankHere()
	f.Covariance = s.Inverse(hereTolerance)
	var d float64
	for i := range n {
		for j := range n {
			d += g[i] * f.Covariance[i*n+j] * g[j]
		}
	}
	f.Distance = math.Sqrt(max(0, d))
	f.Verdict = Converged
	if !(f.Distance < likelihood.ConvergedSE) || s.Smallest() < -1e-6 {
		f.Verdict = NotConverged
	}
	if c := f.Options.VarianceInflation; c != 1 {
		for i := range f.Covariance {
			f.Covariance[i] *= c
		}
	}
	return nil
}

// rankHere is the rank of the observed information, with what is at a bound
// counted as estimated, unless it may as well be elsewhere.
func (f *Fit) rankHere() int {
	n := f.Parameters
	if len(f.limits) == 0 {
		return f.scaled.Rank(hereTolerance)
	}
	a := append([]float64(nil), f.Information...)
	weight := 1.0
	for i := range n {
		weight = max(weight, a[i*n+i])
	}
	row := make([]float64, n)
	for _, rows := range f.moved {
		for _, r := range rows {
			if f.letGo(f.Problem.Design.Slots[r.Class][r.Slot]) {
				continue
			}
			clear(row)
			f.Problem.Design.AddGradient(row, 1, r.Class, r.Slot, r.Z)
			for i, v := range row {
				for j, w := range row {
					a[i*n+j] += weight * v * w
				}
			}
		}
	}
	s, ok := linear.Decompose(a, n)
	if !ok {
		return f.scaled.Rank(hereTolerance)
	}
	return s.Rank(hereTolerance)
}

// effectiveSample is the number of releases and re-releases above the last
// site, removed fish excluded (Burnham et al. 1987).
func effectiveSample(p *model.Problem) int {
	t := p.Sum(nil)
	n := 0
	for _, r := range t.Released[:len(t.Released)-1] {
		n += r
	}
	return n
}

// criterion is AICc, or QAICc where the variance inflation is not 1.
func (f *Fit) criterion() float64 {
	k := f.Estimable
	if f.Options.InflationEstimated {
		k++
	}
	return AICc(f.MinusTwoLogLikelihood/f.Options.VarianceInflation, k, f.EffectiveSample)
}

// AICc is −2 ln L + 2K + 2K(K+1)/(n−K−1) with K parameters and n the effective
// sample (Burnham & Anderson 2002, eq. 2.17); with −2 ln L divided by the
// variance inflation it is QAICc (eq. 2.18). NaN where n ≤ K + 1.
func AICc(minusTwoLogLikelihood float64, k, n int) float64 {
	if n <= k+1 {
		return math.NaN()
	}
	kk := float64(k)
	return minusTwoLogLikelihood + 2*kk + 2*kk*(kk+1)/(float64(n)-kk-1)
}

// designRank is the number of parameters the design can estimate.
func (f *Fit) designRank() (n int) {
	if info := f.designed(); info != nil {
		n = info.Rank(linear.RankTolerance)
	}
	// Drift and spread are told by the times, each by its own columns.
	for _, c := range f.Problem.Columns {
		if c.Part.Moves() {
			n++
		}
	}
	return n
}

// estimates fills survival, detection, products and passed.
func (f *Fit) estimates(ctx context.Context) error {
	defer f.settle()
	p := f.Problem
	l := p.Layout
	last := l.Sites() - 1
	var err error
	if f.running, err = f.newRunning(ctx); err != nil {
		return err
	}
	if f.told = f.running; f.told == nil {
		f.told = f.overWithWindows()
	}
	at := f.covariates(model.Survival)
	for _, gr := range groups(p, p.SurvivalCategories) {
		t := gr.tally(p)
		raw := model.NewClosedForm(&t)
		for k := range last {
			q := f.slot(gr.classes[0], likelihood.Factor{Slot: l.Survival(k)})
			e, err := f.estimate(ctx, &q)
			if err != nil {
				return err
			}
			f.Survival = append(f.Survival, Survival{Of: gr.of, From: k, At: at, Estimate: e, Raw: raw.Survival[k]})
		}
	}
	at = f.covariates(model.Detection)
	for _, gr := range groups(p, p.DetectionCategories) {
		for k := 1; k <= last; k++ {
			from, to := l.SiteRows(k)
			var all []likelihood.Factor
			for b := from; b < to; b++ {
				factor := likelihood.Factor{Slot: l.Detection(b)}
				q := f.slot(gr.classes[0], factor)
				e, err := f.estimate(ctx, &q)
				if err != nil {
					return err
				}
				row := b - from
				if to-from == 1 {
					row = -1
				}
				f.Detection = append(f.Detection, Detection{Of: gr.of, Site: k, Row: row, At: at, Estimate: e})
				factor.Miss = true
				all = append(all, factor)
			}
			if to-from > 1 {
				q := f.slot(gr.classes[0], all...)
				q.Complement = true
				e, err := f.estimate(ctx, &q)
				if err != nil {
					return err
				}
				f.Detection = append(f.Detection, Detection{Of: gr.of, Site: k, Row: -1, At: at, Estimate: e})
			}
		}
	}
	if err := f.movement(ctx); err != nil {
		return err
	}
	if f.Options.EstimatesOnly {
		return f.passed(ctx, true)
	}
	if err := f.products(ctx); err != nil {
		return err
	}
	f.RowTests = rowTests(p)
	f.working()
	return f.passed(ctx, false)
}

// settle sets the intervals of all but the passed table.
func (f *Fit) settle() {
	for _, e := range f.places() {
		settle(e)
	}
	for i := range f.Movement {
		settle(&f.Movement[i].Rest)
	}
}

// products are survival × detection of the last reach where the two cannot be
// told apart but their product can.
func (f *Fit) products(ctx context.Context) error {
	p := f.Problem
	l := p.Layout
	last := l.Sites() - 1
	if last < 1 || p.Histories.River.Sites[last].Divided() {
		return nil
	}
	names := union(p.Categories, p.SurvivalCategories, p.DetectionCategories)
	for _, gr := range groups(p, names) {
		g := gr.classes[0]
		s, d := likelihood.Factor{Slot: l.Survival(last - 1)}, likelihood.Factor{Slot: l.Detection(l.RowCount() - 1)}
		q := f.slot(g, s)
		e, err := f.estimate(ctx, &q)
		if err != nil {
			return err
		}
		if e.Status != Inseparable {
			continue
		}
		q = f.slot(g, s, d)
		if e, err = f.estimate(ctx, &q); err != nil {
			return err
		}
		if e.Status == Inseparable {
			continue
		}
		f.Products = append(f.Products, Product{Of: gr.of, From: last - 1, Site: last, Estimate: e})
	}
	return nil
}

// warn looks over the finished fit for what the user must know. Each message
// says what was seen, what it means and what to try.
func (f *Fit) warn() {
	p := f.Problem
	river := &p.Histories.River
	if f.Verdict != Converged {
		f.warning(WarnNotConverged, "fit", "The search for the maximum ended %.3g standard errors from it: the numbers below are not the maximum likelihood estimates. Try a simpler model, or look for a cohort or site with very few fish.", f.Distance)
	}
	if f.OtherMaximum-f.MinusTwoLogLikelihood < nearMaximum {
		f.warning(WarnSeveralMaxima, "fit", "The likelihood has two nearly equal maxima (−2 ln L %.6f at the other, %.6f at the one reported). Other values fit the data about as well; report the model with care, or use one that shares less between reaches.", f.OtherMaximum, f.MinusTwoLogLikelihood)
	}
	f.warnTooEarly()
	f.warnSpeeds()
	f.warnOneLaw()
	f.warnSilences()
	f.warnNotEstimable()
	f.warnClosedForm()
	f.warnProducts()
	f.warnModelAlone()
	f.warnPassedBelowSeen()
	f.warnRetention()
	f.warnSeparated()
	f.warnBoundary()
	f.warnLimits()
	// Of several tests one may well fall below 0.05 by chance (Bonferroni).
	tests := 0
	for _, t := range f.RowTests {
		if t.Why == "" {
			tests++
		}
	}
	for _, t := range f.RowTests {
		s := &river.Sites[t.Site]
		about := fmt.Sprintf("%s/%s and %s", s.Name, s.Rows[t.RowA], s.Rows[t.RowB])
		switch {
		case t.Why != "":
			f.warning(WarnRowsUntested, about, "Whether the rows %s and %s at %s detect fish independently could not be tested: %s. If both miss the same fish (deep, fast or noisy water), detection there is lower than estimated and passed %% higher.", s.Rows[t.RowA], s.Rows[t.RowB], s.Name, t.Why)
		case t.P < 0.05/float64(tests):
			f.warning(WarnRows, about, "The rows %s and %s at %s do not detect fish independently: of the fish detected downstream %d were detected by both, %d by one only, %d by neither (exact p %s). Detection of the whole site is not 1 − Π(1 − p); try the site as one row.", s.Rows[t.RowA], s.Rows[t.RowB], s.Name, t.Both, t.OnlyA+t.OnlyB, t.Neither, pWords(t.P))
		}
	}
	f.warnSparse()
	if p.Dropped > 0 {
		f.warning(WarnDropped, "fish", "%d fish were left out because a value the model uses is missing. The estimates describe the others.", p.Dropped)
	}
	if p.Filled > 0 {
		f.warning(WarnDropped, "fish", "%d missing values were replaced by the mean, as the study file asks; effects of those columns are drawn towards zero.", p.Filled)
	}
	f.byWeight()
	f.doubts()
}

// Starts are the starts the search has without [Options.Start], the first of
// them near the closed form.
func (f *Fit) Starts() [][]float64 {
	if f.Check() != nil {
		return nil
	}
	return append([][]float64{maximum.StartValues(f.Problem)}, maximum.OtherStarts(f.Problem)...)
}

func (f Fit) MarshalJSON() ([]byte, error) { return plain.JSON(f) }

// findLevels looks for points as high as the maximum with something let go that is
// at 0 or 1 there, and counts that as not told.
func (f *Fit) findLevels(ctx context.Context) error {
	if len(f.limits) == 0 {
		return nil
	}
	start, err := f.inside(ctx)
	if err != nil {
		return err
	}
	told := f.EstimableHere >= f.Estimable
	f.levels, err = maximum.New(f.Problem, f.data).Levels(ctx, f.X, f.LogLikelihood, f.limits, f.moved, start, told)
	f.EstimableHere = f.rankHere()
	return err
}
