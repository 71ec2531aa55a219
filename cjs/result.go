// Package cjs fits Cormack–Jolly–Seber models to detection histories and says
// what the estimates mean: survival in each reach, detection at each site, and
// the share of the released fish that passed.
//
// A study becomes histories (package ingest), histories and a model in words
// become a problem ([model.Build]), and a problem becomes a [Fit] ([New]):
//
//	st, err := study.Load("study.toml")
//	r, err := ingest.Run(ctx, st, ingest.Options{})
//	in, err := model.FromStudy(st, r.Histories, r.WorkingShare, nil)
//	p, err := model.Build(in, model.Spec{Survival: "reach + cohort", Detection: "site"})
//	f, err := cjs.New(ctx, p, cjs.Options{})
//
// Everything of a fit is plain data; nothing here prints.
//
// Begin with [New], and read [Fit]; Example and ExampleFit show both.
// Probabilities and shares are from 0 to 1, times in days, distances in km;
// what cannot be estimated is NaN, and [Status] says why.
package cjs

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// Status says what an estimate is worth.
type Status string

const (
	Estimated   Status = "estimated"   // estimated from the data
	Held        Status = "held"        // taken as known, in the study
	Boundary    Status = "boundary"    // at 0 or 1; no standard error
	Inseparable Status = "inseparable" // only a product with others can be had
	Borrowed    Status = "borrowed"    // estimable only because detection is shared with other sites
	Absent      Status = "absent"      // nothing to estimate it from
	TooEarly    Status = "too early"   // the data end too early to tell slow from dead, or a row was idle too long; only an interval
)

// Estimate is a value with its uncertainty. A value that does not exist is NaN.
type Estimate struct {
	Value         float64 `json:"estimate"` // NaN where there is none
	SE, Low, High float64 // standard error, and the limits of the interval; NaN where there are none
	Status        Status  // what the estimate rests on
	// Method is how the interval was made: "logit", "profile", "wilson", "wald", …; "" when there is none.
	Method string

	// forTimes: the interval is by profile only because some row did not always work,
	// or many fish are still under way.
	forTimes bool
	// pending is the interval by profile likelihood where it is still to be found; of
	// bounds of so large a share of the fish, the others may be at 0 and at 1.
	pending *pending
	share   float64
}

// NoEstimate is an estimate of which nothing can be said.
func NoEstimate(s Status) Estimate {
	nan := math.NaN()
	return Estimate{Value: nan, SE: nan, Low: nan, High: nan, Status: s}
}

// Category is a level of a categorical column.
type Category struct{ Name, Level string }

// Covariate is a number behind an estimate: a column or site attribute and its value.
type Covariate struct {
	Name  string  // of the column
	Value float64 // in the column's own unit
}

// Survival is the survival of the reach that starts at site From.
type Survival struct {
	Of []Category // empty: all fish
	// From is the site index the reach starts at; it ends at From+1.
	From int
	At   []Covariate
	Estimate
	// Raw is the closed-form value, which may exceed 1; NaN where none exists.
	Raw float64
}

// Detection is the detection at a row, or at a whole divided site.
type Detection struct {
	Of   []Category // the fish; empty for all
	Site int        // index in the river's sites
	// Row is the row's index within the site; -1 for an undivided site or the whole of a divided one.
	Row int
	At  []Covariate
	Estimate
}

// Working is a row that did not work all the time: detection there is that at
// full work, and Share the mean share of the passages, by the law of travel, for
// which it worked.
type Working struct {
	// Row is the row's index within the site; -1 for an undivided site.
	Site, Row int
	Share     float64
	// Idle are the times, from the first release on, in which it did not, in
	// order, in Unix milliseconds; math.MaxInt64 where it stood still for good.
	Idle [][2]int64
}

// Product is a survival × detection product that cannot be taken apart.
type Product struct {
	Of []Category // the fish; empty for all
	// From is the site the last reach starts at, Site the site it ends at.
	From, Site int
	Estimate
}

// Passed is what can be said of one site and group.
type Passed struct {
	Of       []Category // empty: all fish
	Site     int
	Released int // fish newly released above the site
	Removed  int // of these, removed above the site
	Seen     int // of these, detected at the site
	// SeenShare is Seen over fish released and not removed above: survival × detection.
	SeenShare Estimate
	// Detection of the whole site for this group.
	Detection Estimate
	// PassedShare is survival from release to the site, had nobody been removed.
	PassedShare Estimate
	// WithRetention is PassedShare divided by the share of tags kept: what
	// it would be had no tag been lost. Status Absent without [Options.Retention].
	WithRetention Estimate
	// BetweenCohorts is the standard deviation of the cohorts' passed shares;
	// NaN but for all fish of at least five cohorts.
	BetweenCohorts float64
	// PassedFish is the realised number that passed, removals subtracted;
	// while the season runs, that have passed by the end of the data.
	PassedFish Estimate
	// PassedFishShare is PassedFish over Released: the realised share, which
	// removals lower and the number known to have passed bounds below.
	PassedFishShare Estimate
	// SoFar is, while the season runs, the share that has passed by the end
	// of the data, StillToPass the share that will yet; with PassedShare
	// their sum. Status Absent when the season is over.
	SoFar, StillToPass Estimate
	// KnownPassed is the number seen at the site or farther down.
	KnownPassed int
	// TooEarlyFor are, where all fish have an estimate of PassedShare, the cohorts
	// among them that have none, as it is too early: what is known of all together
	// is not of each.
	TooEarlyFor []string
	// Doubts are the IDs of the warnings that concern PassedShare of this row,
	// in the order of [WarningIDs]. An estimate at 0 or 1 is an answer and no
	// doubt.
	Doubts []string

	grad  []float64 // of PassedShare by the coefficients
	point float64
}

// Withheld is the share at the maximum of the likelihood also where it is too early
// to give it as an estimate, as studies of known truth count it.
func (p *Passed) Withheld() float64 { return p.point }

// OneSite is what can be said with one site below the release and nothing that
// tells its detection.
type OneSite struct {
	Of   []Category // the fish; empty for all
	Site int        // index in the river's sites
	// Seen is the share seen.
	Seen Estimate
	// If lists supposed detections and the passed share each would mean,
	// from the lowest detection possible (all passed) to 1.
	If []IfDetection
}

// IfDetection: if the array sees Detection of passers, Passed of the fish passed.
type IfDetection struct{ Detection, Passed, Low, High float64 }

// RowTest is a test of whether two rows of a site detect fish independently, on
// fish seen farther down.
type RowTest struct {
	Site       int // index in the river's sites
	RowA, RowB int // within the site
	// Both, OnlyA, OnlyB, Neither: fish seen farther down.
	Both, OnlyA, OnlyB, Neither int
	// P is the two-sided Fisher exact probability; NaN when it cannot be tested.
	P float64
	// Why says why it cannot be tested, or "".
	Why string
}

// Coefficient is one coefficient of the model, on the link scale.
type Coefficient struct {
	Part string // "survival" or "detection"
	Term string
	// Against is the level a contrast is measured against, or "".
	Against string
	// Estimate is in the column's own unit; PerSD per standard deviation
	// (NaN where the term holds no number).
	Estimate, SE float64
	PerSD        float64
	Status       Status
}

// Warning is something the user must know. The ID is stable.
type Warning struct {
	ID      string // stable; `unseen explain` shows its text
	Message string // what was seen, what it means, what to try
	About   string
}

// Verdict on convergence: our own, from score and information at the answer.
type Verdict string

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
	// levels are points as high as the maximum with something let go that is at
	// a bound there.
	levels []maximum.Level
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
	room          *room           // of profilers
	// asked are the intervals by profile likelihood that are still to be found;
	// profiled these and those found, by the key of their quantity: the detection of
	// a site is that of every cohort too.
	asked    []*pending
	profiled map[string]*pending
	peak     *known
	// rivals are where limits are challenged from, without limits of their own;
	// made when first asked for.
	rivals []*known
	// forCurves: intervals are those of the many points of curves.
	forCurves bool
	split     *components // that share no coefficient; made when first asked for
	// designInfo is the expected information at the point interior, to tell
	// what the design could estimate; made when first asked for.
	designInfo *linear.Eigen
	interior   []float64
}

// component is some classes of a fit as a fit of their own; columns are those of its
// coefficients among those of the whole.
type component struct {
	*Fit
	columns []int
}

// components are those of a fit.
type components struct {
	of      []int // class → component, −1: no coefficient
	columns [][]int
	// base are the coefficients of a point as good as the maximum at which none
	// is at infinity.
	base []float64
}

// running is what a fit needs to know of a season that still runs.
type running struct {
	f      *Fit
	fresh  []likelihood.Wait       // the newly released fish
	by     []likelihood.PassedSums // newly released fish: come by the end of the data
	unseen []likelihood.PassedSums // waiting fish: passed unseen by then
	// now and end are the inverse expected information of these releases, by
	// the end of the data and when every migrant has come.
	now, end  []float64
	nowScaled *linear.Eigen
	// under is the share of the newly released fish that, did all survive,
	// would still have to come to the last site.
	under float64
	// inner is a point at which nothing is at a bound, inside the expected
	// information there by the end of the data and innerVariance its inverse,
	// innerEnd when every migrant has come.
	inner                   []float64
	inside                  *linear.Eigen
	innerVariance, innerEnd []float64
	// alive is made when first asked for; see come.
	alive []likelihood.PassedSums
}

// parted is what a number of the fish parts, or all but parts: the fish of one
// slot whose probability is near 0, and those where it is near 1.
type parted struct {
	slot    int
	numbers []int // into Problem.Numbers
	fish    [2]int
	low     [2]float64 // smallest and largest value of the first number on both sides
	high    [2]float64
	between float64 // Σ p(1 − p)
	exact   bool    // the slope goes to infinity
}

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

// Curve is a predicted probability over the observed range of one number, all
// others at their mean.
type Curve struct {
	Part model.Part // survival or detection
	Of   []Category // the fish; empty for all
	// From is the site the reach starts at (survival) or the site (detection).
	From   int
	Row    int // within a divided site, else −1
	Number string
	Points []CurvePoint
}

// CurvePoint is the prediction at one value of the number.
type CurvePoint struct {
	Value float64 // in the column's own unit
	Estimate
}

// Ratio is the exponential of a coefficient: an odds ratio on the logit link,
// a rate ratio on a rate link.
type Ratio struct {
	Part model.Part // survival or detection
	Term string     // in canonical form
	// Against is the level a contrast is measured against; "" for a number.
	Against string
	Kind    string // "odds ratio" or "rate ratio"; "ratio" of drift, spread and rest's way
	// PerUnit is the ratio for one unit of the number (or of the contrast),
	// PerSD for one standard deviation, with intervals made on the log scale.
	PerUnit, PerSD Estimate
}

// Pace is survival per standard length of a reach under a rate link.
type Pace struct {
	Of   []Category // the fish; empty for all
	From int        // index of the site at the upper end of the reach
	// Length is 10 (km) or 1 (day), Unit "km" or "day".
	Length float64
	Unit   string
	Estimate
}

// Relative is the passed share of one cohort over that of another at a site.
type Relative struct {
	Cohort, Against string // the cohort, and the one it is compared with
	Site            int    // index in the river's sites
	// Estimate is the ratio; its interval is symmetric on the log scale.
	Estimate
}

// Effects are what the coefficients mean to people.
type Effects struct {
	Curves   []Curve    // of each number in the model
	Ratios   []Ratio    // odds or rate ratios of each term
	Paces    []Pace     // survival per length, under a rate
	Relative []Relative // passed shares of cohorts relative to the first
}

func (c Curve) MarshalJSON() ([]byte, error)       { return plain.JSON(c) }
func (c CurvePoint) MarshalJSON() ([]byte, error)  { return plain.JSON(c) }
func (r Ratio) MarshalJSON() ([]byte, error)       { return plain.JSON(r) }
func (p Pace) MarshalJSON() ([]byte, error)        { return plain.JSON(p) }
func (r Relative) MarshalJSON() ([]byte, error)    { return plain.JSON(r) }
func (e Effects) MarshalJSON() ([]byte, error)     { return plain.JSON(e) }
func (e Estimate) MarshalJSON() ([]byte, error)    { return plain.JSON(e) }
func (c Covariate) MarshalJSON() ([]byte, error)   { return plain.JSON(c) }
func (s Survival) MarshalJSON() ([]byte, error)    { return plain.JSON(s) }
func (d Detection) MarshalJSON() ([]byte, error)   { return plain.JSON(d) }
func (p Product) MarshalJSON() ([]byte, error)     { return plain.JSON(p) }
func (p Passed) MarshalJSON() ([]byte, error)      { return plain.JSON(p) }
func (o OneSite) MarshalJSON() ([]byte, error)     { return plain.JSON(o) }
func (r RowTest) MarshalJSON() ([]byte, error)     { return plain.JSON(r) }
func (c Coefficient) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// Movement is drift and spread of a group of migrants, from the first-passage
// law of their times.
type Movement struct {
	Of []Category  // the fish; empty for all
	At []Covariate // covariate values the estimate is for
	// From and To are the sites between which they travel so; the whole river
	// where the model has one law.
	From, To int
	// Drift is in km/day, Spread in km/√day; both absent where the length of the
	// one reach is not known.
	Drift, Spread Estimate
	// Rest is the share that rests after release, RestDays how long on
	// average; Status Absent where the model has no rest.
	Rest, RestDays Estimate
}

func (m Movement) MarshalJSON() ([]byte, error) { return plain.JSON(m) }

// pending is an interval by profile likelihood that is asked for, and then found.
type pending struct {
	quantity *likelihood.Quantity
	value    float64 // of the quantity, at the estimates

	low, high float64 // NaN where none was found
	// ends are the coefficients at the limits, nil where there are none.
	ends [2][]float64
	// accused is a point met on the way that beats the fit.
	accused []float64
	err     error // the context's
}

// places are the estimates of survival, of detection and of their products, to be
// set.
func (f *Fit) places() []*Estimate {
	var out []*Estimate
	for i := range f.Survival {
		out = append(out, &f.Survival[i].Estimate)
	}
	for i := range f.Detection {
		out = append(out, &f.Detection[i].Estimate)
	}
	for i := range f.Products {
		out = append(out, &f.Products[i].Estimate)
	}
	return out
}

// Check refuses a fit that [New] or [Expect] did not make: one put together by
// hand, or read back from JSON, has its numbers but cannot be gone on with: what
// is asked of it, or of a record, site or estimate that is not there, is 0, nil or
// NaN.
func (f *Fit) Check() error {
	if f == nil || f.Problem == nil || f.machine == nil {
		return fmt.Errorf("there is no fit to go on with; make one with cjs.New")
	}
	return nil
}
