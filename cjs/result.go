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
	"math"

	"example.org/unseen/cjs/internal/plain"
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

	// forOutage: the interval is by profile only because a row did not always work.
	forOutage bool
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

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (c Curve) MarshalJSON() ([]byte, error)       { return plain.JSON(c) }
func (c CurvePoint) MarshalJSON() ([]byte, error)  { return plain.JSON(c) }
func (r Ratio) MarshalJSON() ([]byte, error)       { return plain.JSON(r) }
func (p Pace) MarshalJSON() ([]byte, error)        { return plain.JSON(p) }
func (r Relative) MarshalJSON() ([]byte, error)    { return plain.JSON(r) }
func (e Effects) MarshalJSON() ([]byte, error)     { return plain.JSON(e) }
func (f Fit) MarshalJSON() ([]byte, error)         { return plain.JSON(f) }
func (w Watched) MarshalJSON() ([]byte, error)     { return plain.JSON(w) }
func (r Refit) MarshalJSON() ([]byte, error)       { return plain.JSON(r) }
func (e Estimate) MarshalJSON() ([]byte, error)    { return plain.JSON(e) }
func (c Covariate) MarshalJSON() ([]byte, error)   { return plain.JSON(c) }
func (s Survival) MarshalJSON() ([]byte, error)    { return plain.JSON(s) }
func (d Detection) MarshalJSON() ([]byte, error)   { return plain.JSON(d) }
func (p Product) MarshalJSON() ([]byte, error)     { return plain.JSON(p) }
func (p Passed) MarshalJSON() ([]byte, error)      { return plain.JSON(p) }
func (o OneSite) MarshalJSON() ([]byte, error)     { return plain.JSON(o) }
func (r RowTest) MarshalJSON() ([]byte, error)     { return plain.JSON(r) }
func (c Coefficient) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
func (m Movement) MarshalJSON() ([]byte, error)    { return plain.JSON(m) }
