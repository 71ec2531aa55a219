package cjs

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"slices"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// Options of a fit. The zero value is the documented default.
type Options struct {
	// Level of the intervals; 0 means 0.95.
	Level float64
	// Interval is "auto", "logit" or "profile"; "" means auto: by profile
	// likelihood where the interval on the logit scale is not to be trusted
	// (few fish on one side, near 0 or 1, beside what is at 0 or 1, resting on
	// a survival or detection of which that holds, or borrowed), else on the
	// logit scale. What is at 0 or 1 has a profile interval in any case.
	Interval string
	// VarianceInflation multiplies all variances; 0 means 1.
	VarianceInflation float64
	// InflationEstimated: the inflation was estimated from the data and
	// counts as one more parameter in QAICc.
	InflationEstimated bool
	// Start are coefficients to start from, and the only start; nil means
	// the closed form and some others.
	Start []float64
	// Retention are fish held and tags kept by them; Held 0 means none.
	Retention struct{ Held, Kept int }
	// EstimatesOnly leaves out what refits by the thousand do not need:
	// ranks, passed fish, products, warnings.
	EstimatesOnly bool
}

// filled is the options with their defaults.
func (opt Options) filled() Options {
	if opt.Level == 0 {
		opt.Level = 0.95
	}
	if opt.Interval == "" {
		opt.Interval = "auto"
	}
	if opt.VarianceInflation == 0 {
		opt.VarianceInflation = 1
	}
	return opt
}

// Verdict on convergence: our own, from score and information at the answer.
type Verdict string

const (
	Converged    Verdict = "converged"     // less than 0.0001 standard errors from the maximum
	NotConverged Verdict = "not converged" // the numbers are no maximum likelihood estimates
)

// Fit is a fitted model: plain data, which encoding/json writes, with null for
// what is NaN here.
type Fit struct {
	Problem *model.Problem // what was fitted
	Options Options        // with defaults filled in

	// X are the coefficients as the design has them: numbers standardised.
	X []float64
	// Information is minus the Hessian at X, with bounds held.
	Information []float64
	// Covariance of X, pseudo-inverse where combinations are not
	// determined, multiplied by the variance inflation.
	Covariance []float64

	LogLikelihood         float64 // at the maximum, without the multinomial constant
	MinusTwoLogLikelihood float64 // −2 times it
	Parameters            int     // columns of the design
	Estimable             int     // by design, whatever the data
	EstimableHere         int     // with these data
	EffectiveSample       int
	// AICc, or QAICc where the variance inflation is not 1.
	AICc       float64 `json:"aicc"`
	Verdict    Verdict
	Distance   float64 // to the maximum, in standard errors
	Iterations int
	// OtherMaximum is −2 ln L of the best other maximum met; NaN: none.
	OtherMaximum float64

	Coefficients []Coefficient // on the link scale, in the order of the design's columns
	Survival     []Survival    // by group and reach, probabilities
	Detection    []Detection   // by group and row or site, probabilities
	Products     []Product     // survival × detection where only the product is identifiable
	Passed       []Passed      // by site and group
	RowTests     []RowTest     // of neighbouring rows of each divided site
	Movement     []Movement    // where times of passage are part of the likelihood
	Working      []Working     // rows that did not work all the time
	OneSite      *OneSite
	Warnings     []Warning

	*machine
}

// machine is what a fit was made with, for those who go on from it: no part of
// the result. A fit that was not made by [New] or [Expect] has none.
type machine struct {
	data   *likelihood.Data
	design *likelihood.Design // at its limits
	// limits are the directions in which coefficients go to infinity, moved
	// the predictors that each takes to 0 or 1; see search.
	limits [][]float64
	moved  [][]maximum.Row
	edges  []*maximum.Edge
	scaled *linear.Eigen
	z      float64 // normal quantile of the level
	// running is set while the season runs; told too where the season is over but
	// rows did not work all the time.
	running *running
	told    *running
	// accused is a point met while profiling that beats the fit, tries how
	// often the fit was made again for such.
	accused []float64
	tries   int
	// inner is a point inside all intervals with no coefficient far out,
	// unlimited and limited the log-likelihood without limits and at them; made when first asked for.
	inner   []float64
	parting []parted // slots at which a number parts the fish
	// doubtfulSlots: see restsOnDoubtful.
	doubtfulSlots [][]float64
	maxima        []maximum.Hill // where the climbs of the search ended
	unheld        []float64      // covariance were nothing at a bound; see besideLimit
	unlimited     *likelihood.CJS
	limited       *likelihood.CJS // at the limits
	// ends are the coefficients at the limits of the last interval that was
	// found by profile likelihood.
	ends [2][]float64
	// profiled are the intervals found by profile likelihood, by the key of
	// their quantity.
	profiled map[string]profiled
	peak     *known
	// rivals are where limits are challenged from, without limits of their own;
	// made when first asked for.
	rivals []*known
	split  *components // that share no coefficient; made when first asked for
	// designInfo is the expected information at the point interior, to tell
	// what the design could estimate; made when first asked for.
	designInfo *linear.Eigen
	interior   []float64
}

// hereTolerance: eigenvalues of the observed information with unit diagonal
// below this belong to combinations these data do not determine.
const hereTolerance = 1e-9

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
	return f.Problem.Same(p) && slices.Equal(f.Problem.ClassOf, p.ClassOf) && reflect.DeepEqual(f.Options, opt.filled())
}

// mayTry tells whether the fit is made again where a profile beats it: not
// often, and not where the start was given.
func (f *Fit) mayTry() bool {
	return f.tries < mostTries && (f.Options.Start == nil || f.tries > 0)
}

// mostTries bounds how often a fit is made again because a profile beat it.
const mostTries = 3

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
		machine: &machine{tries: tries, data: data, z: normalQuantile(0.5 + opt.Level/2)}}
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
// counted as estimated.
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

// designed is the expected information by which the design is judged, whatever
// the data; nil where there is none.
func (f *Fit) designed() *linear.Eigen {
	if p := f.Problem; f.designInfo == nil {
		f.interior, f.designInfo = likelihood.DesignInformation(p.Design, releases(p), p.TestUnits())
	}
	return f.designInfo
}

// byDesign tells whether the design can estimate q whatever the data. A bound
// can make determined what the design confounds — where survival × detection
// comes out as 1, both must be 1 — but that is chance, not knowledge.
func (f *Fit) byDesign(q *likelihood.Quantity) bool {
	info := f.designed()
	if info == nil {
		return true
	}
	var at likelihood.Point
	q.Eval(f.Problem.Design, f.interior, 1, &at)
	return info.Determines(at.G)
}

// releases are what the fish of p tell apart: numbers and sites of release of
// each class.
func releases(p *model.Problem) []likelihood.Released {
	var releases []likelihood.Released
	for g := range p.Classes {
		at := make([]float64, p.Layout.Sites())
		for i, n := range p.Classes[g].Released {
			if n > 0 {
				at[i] = 1
			}
		}
		for _, z := range p.TypicalNumbers(g) {
			releases = append(releases, likelihood.Released{Class: g, Z: z, At: at})
		}
	}
	return releases
}
