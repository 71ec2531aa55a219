package model

import (
	"fmt"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/likelihood"
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

// Build makes the problem of fitting spec to in. Errors are the user's: a name
// that is not there, a missing value, a hold that contradicts the data.
func Build(in Input, spec Spec) (*Problem, error) {
	if err := in.Check(); err != nil {
		return nil, err
	}
	h := withReleaseDay(in.Histories, spec, in.Location)
	p := &Problem{Spec: spec, Histories: h, masks: h.River.SiteMasks(), TestPasses: in.TestPasses, AsOf: history.NoTime, zone: in.Location}
	rows := make([]int, len(h.River.Sites))
	for k := range rows {
		rows[k] = h.River.Sites[k].RowCount()
	}
	var err error
	if p.Layout, err = likelihood.NewLayout(rows); err != nil {
		return nil, err
	}
	if !in.AsOf.IsZero() {
		if err := p.running(in.AsOf); err != nil {
			return nil, err
		}
	}
	if err := p.windows(in); err != nil {
		return nil, err
	}
	parts := p.Parts()
	if err := p.readTerms(); err != nil {
		return nil, err
	}
	if err := p.timed(); err != nil {
		return nil, err
	}
	r := &resolver{h: h, conditions: in.Conditions}
	p.resolver = r
	if err := p.names(r, in, parts); err != nil {
		return nil, err
	}
	if err := p.classes(in); err != nil {
		return nil, err
	}
	p.Design = &likelihood.Design{Layout: p.Layout, Numbers: 1, Slots: make([][][]likelihood.Entry, len(p.Classes)), Links: make([][]likelihood.Link, len(p.Classes))}
	p.Products = [][]int{nil}
	for g := range p.Classes {
		p.Design.Slots[g] = make([][]likelihood.Entry, p.Layout.Slots())
		p.Design.Links[g] = make([]likelihood.Link, p.Layout.Slots())
	}
	if err := p.links(); err != nil {
		return nil, err
	}
	if err := p.holds(in.Holds); err != nil {
		return nil, err
	}
	for _, part := range parts {
		if err := p.columns(r, part); err != nil {
			return nil, err
		}
		if n := len(p.Columns); n > MaxParameters {
			return nil, fmt.Errorf("the model has %d parameters or more for %d fish; at most %d can be fitted. Give terms that more fish share, as reach + cohort for reach by cohort, or cohorts of more fish each", n, h.Fish(), MaxParameters)
		}
	}
	p.Design.Columns = len(p.Columns)
	p.Design.Numbers = len(p.Products)
	if p.Design.Numbers > likelihood.MaxNumbers {
		return nil, fmt.Errorf("the model multiplies the fish's numbers into %d covariates; at most %d can be handled", p.Design.Numbers-1, likelihood.MaxNumbers-1)
	}
	p.data()
	if err := p.times(); err != nil {
		return nil, err
	}
	if spec.Drift == "" && spec.Spread == "" && spec.Rest == "" && p.Timed() {
		if p.speeds, p.tested = p.testSpeeds(), true; p.speeds.Differ() {
			spec.Drift, spec.Spread = "reach", "reach"
			return Build(in, spec)
		}
	}
	if err := p.testPasses(in.TestPasses); err != nil {
		return nil, err
	}
	return p, nil
}

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
