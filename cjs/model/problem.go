package model

import (
	"fmt"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/likelihood"
)

const (
	msPerDay = 24 * 60 * 60 * 1000
	// shortestDays: times are read to the minute or worse; a passage in no
	// time at all is taken as this.
	shortestDays = 1.0 / (24 * 60)
)

// Spec is a model in words. The zero value is the default model: survival
// "reach by cohort", detection "row", links logit.
type Spec struct {
	Name                        string // of the model; may be empty
	Survival, Detection         string // "" is the default
	SurvivalLink, DetectionLink string // "" is "logit"
	// Drift and Spread are terms of the fish and the reach; "" is "same", but
	// where nothing is said of movement and [Problem.Speeds] tells that the
	// stretches differ both are "reach". They matter only with [Input.AsOf].
	Drift, Spread string
	// Rest are terms (of the fish) of the share that rests after release; ""
	// is that none does. Only with [Input.AsOf].
	Rest string
}

// Hold is a value taken as known: of reach Reach, or of numbered row Row (the
// other is −1).
type Hold struct {
	Reach, Row int               // index of the reach for survival, of the row for detection; the other is −1
	Value      float64           // a probability
	Where      map[string]string // category → level; empty: all fish
}

// TestPasses are known passes of a test tag over a numbered row.
type TestPasses struct {
	Row          int               // index among all rows
	Passes, Read int               // known passes, and how many were detected
	Where        map[string]string // categories and levels they stand for; empty for all fish
}

// Input is what a model is fitted to.
type Input struct {
	Histories  *history.Histories // the fish
	Holds      []Hold             // values taken as known; later ones override
	TestPasses []TestPasses       // of test tags
	// Conditions are numbers of a cohort at a site.
	Conditions []history.CohortCondition
	// Missing says what becomes of fish with a missing value of a column the
	// models use: "" refuses, "drop" leaves them out, "mean" puts the mean.
	Missing string
	// AsOf is the time the data end while the season still runs, the first
	// moment that no longer counts; zero when it is over. With it times of passage are part of the likelihood: fish still
	// on their way are told from the dead. Fish released then or later are left out;
	// later sightings must not be in Histories.
	AsOf time.Time
	// Location is the zone of the days of release; nil is UTC.
	Location *time.Location
	// Working are the windows in which each numbered row worked, nil where it
	// always did. Where they leave out a time at which fish can have passed,
	// times of passage are part of the likelihood: a row that did not work
	// missed nothing. Sightings outside must not be in Histories.
	Working [][]study.Window
	// WorkingShare is, by cohort and site, the share of the passages that fell
	// into the site's windows as its neighbours' sightings tell (nil: not
	// known): for what is said where the windows cannot count.
	WorkingShare [][]float64
	// Also names columns that other models of the same comparison use: fish
	// missing one of them are missing in this model too.
	Also []string
}

// Number is a numeric column of the fish, standardised inside.
type Number struct {
	Name     string  // of the column
	Mean, SD float64 // over the fish of the model, with n − 1
	Min, Max float64 // observed range
}

// Column is a coefficient of the model.
type Column struct {
	Part Part // of the model that the coefficient belongs to
	// Term names the coefficient: "reach A to B", "cohort late",
	// "fork_length_mm by sex male", or "same".
	Term string
	// Against is the level a contrast is measured against, or "".
	Against string
	// Scale turns the coefficient into one per unit of its fish numbers:
	// own = coefficient · Scale. 1 where there is none.
	Scale float64
	// Numeric is set where the term holds a number; SlotSD is the standard
	// deviation of its site or cohort numbers (1 without).
	Numeric bool
	SlotSD  float64
}

// Problem is a model with its data, ready to be fitted.
type Problem struct {
	Spec                Spec               // the model, in canonical form
	Histories           *history.Histories // the fish that are fitted
	Layout              *likelihood.Layout // reaches, rows and other slots of the likelihood
	Design              *likelihood.Design // how coefficients make predictors
	Data                *likelihood.Data   // counts of identical fish
	Columns             []Column           // what each coefficient is
	Categories          []string           // that tell the classes apart; the cohort first
	Levels              [][]string         // of each category
	Classes             []Class
	Numbers             []Number
	Products            [][]int                   // number n of the design → indices into Numbers
	Conditions          []history.CohortCondition // those the model uses
	Dropped             int                       // fish left out for missing values
	Missing             []Missing                 // of which columns; a fish may lack several
	Filled              int                       // missing values replaced by the mean
	TestPasses          []TestPasses
	SurvivalCategories  []string // those survival differs by
	DetectionCategories []string // those detection differs by
	MovementCategories  []string // those drift or spread differ by
	// AsOf is the time the data end, Unix milliseconds; NoTime without one.
	AsOf int64
	// Working are the windows in which each numbered row worked, where they are
	// part of the likelihood; else nil.
	Working [][]study.Window
	// NotYet is the number of fish not released before AsOf.
	NotYet int

	// ClassOf is the class of each record, −1 where it is left out.
	ClassOf []int32
	// Z[n−1] are number n of each record; nil without numbers.
	Z [][]float64

	terms     map[Part]Terms
	masks     []uint64
	testUnits int

	resolver *resolver
	km       []float64          // of the sites, with AsOf
	laws     []int              // see stretches
	room     []float64          // days from the start of each travel time to AsOf
	tripOf   []int32            // record of each travel time
	working  *likelihood.Layout // with the windows of work; nil without
	zone     *time.Location     // of moments in messages; nil: UTC
	origin   int64              // Unix milliseconds, the first release; with windows
	speeds   *Speeds            // where it was tested already
	tested   bool
}

// Missing counts the fish left out that lack a value of a column.
type Missing struct {
	Column string // the column
	Fish   int    // how many lack a value there
}

// Class is fish that share all categories of the model.
type Class struct {
	Level []int // index into Levels of each category
	Tally
}

// MaxParameters is the most a model may have: their information is a square
// matrix, inverted in each step.
const MaxParameters = 500

// parse parses s, with the cohort under its one name and left out where there
// is only one.
func (p *Problem) parse(s string) (Terms, error) {
	t, err := Parse(s)
	if err != nil {
		return nil, err
	}
	if c := p.Histories.CohortColumn; c != "" && c != Cohort {
		t = t.renamed(c, Cohort)
	}
	if len(p.Histories.Cohorts) < 2 {
		t = t.Without(Cohort)
	}
	return t, nil
}

// Running tells whether the season still runs: times are part of the model.
func (p *Problem) Running() bool { return p.AsOf != history.NoTime }

// Speeds is the likelihood ratio test of one law of travel for all stretches
// against one for each, as far as the model's terms do not have it already. It
// takes the times between neighbouring ends of the stretches, each given that
// the fish came by the end of the data, and while some row there worked:
// survival and detection have no part.
// Where fish may rest, their first travel times are left out.
type Speeds struct {
	Statistic, P float64 // likelihood ratio, and its probability
	DF           int     // degrees of freedom
	// Drift (km/day) and Spread (km/√day) by stretch, of fish of the first
	// class, each stretch having its own; From and To are its sites.
	Drift, Spread []float64
	From, To      []int
}

// Tally counts the fish of a class, or of several classes together.
type Tally struct {
	// New[k]: fish newly released at site k.
	New []int
	// Seen[k]: fish detected at site k, below their entry.
	Seen []int
	// Released[k]: fish released or seen at site k and at large afterwards.
	Released []int
	// Next[i][j]: of Released[i], those next seen at site j.
	Next [][]int
	// Alive[k]: fish known to have survived reach k.
	Alive []int
	// RowSeen[b], RowMissed[b]: fish known to have passed numbered row b,
	// detected there or not; those passed while it may not have worked are no
	// part of RowMissed.
	RowSeen, RowMissed []int
}

// resolver finds names in a study.
type resolver struct {
	h          *history.Histories
	conditions []history.CohortCondition
	categories []string // of the classes, in order
	numbers    []string // fish numbers, in order
}

// Check refuses a problem that [Build] did not make. What is asked of such a
// problem, or of a record, slot or site that is not there, is 0, nil, "" or NaN.
func (p *Problem) Check() error {
	if p == nil || p.terms == nil || p.Histories == nil || p.Layout == nil || p.Design == nil || p.Data == nil {
		return fmt.Errorf("there is no problem to fit; make one with model.Build")
	}
	return nil
}

// has tells whether there is a record i in the model.
func (p *Problem) has(i int) bool {
	return p.Histories != nil && i >= 0 && i < min(len(p.ClassOf), p.Histories.Len())
}

// Windowed tells whether windows of work are part of the likelihood.
func (p *Problem) Windowed() bool { return p.working != nil }

func (p *Problem) since(ms int64) float64 { return float64(ms-p.origin) / msPerDay }

// Timed tells whether times of passage are part of the likelihood: the season
// still runs, or some row did not work all the time.
func (p *Problem) Timed() bool { return p.Running() || p.Windowed() }

// IdleRows are, of record i up to site last, as bits the rows that did not see it
// and were not at work when it passed, or may not have been.
func (p *Problem) IdleRows(i, last int) (idle uint64) {
	if !p.Windowed() || p.Histories == nil || i < 0 || i >= p.Histories.Len() || last >= len(p.masks) {
		return 0
	}
	h, l := p.Histories, p.working
	at := int(h.Entry[i])
	for k := at + 1; k <= last; k++ {
		if h.Seen[i]&p.masks[k] == 0 {
			continue
		}
		idle |= l.Unknown(at, k)
		if first := p.Histories.FirstAt(i, k); first != history.NoTime {
			idle |= p.masks[k] &^ l.RowsAt(k, p.since(first)) &^ h.Seen[i]
		}
		at = k
	}
	return idle
}
