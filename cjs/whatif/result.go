package whatif

import (
	"context"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/cjs/model"
)

// Result is what the answer hangs on.
type Result struct {
	// Outcomes of all changes, the largest move first; those without any last.
	Outcomes []*Outcome
	// SoFar: the season runs, and the shares are those that have passed so far.
	SoFar bool
	// Influence lists the fish that move the passed shares most; where there
	// is no such list WhyNone says why.
	Influence []Influence
	WhyNone   string
}

// Kind says what a change is about.
type Kind string

const (
	Rule   Kind = "rule"   // a data rule switched off
	Cohort Kind = "cohort" // a cohort left out
	Site   Kind = "site"   // a site left out
)

// Change is one thing done otherwise.
type Change struct {
	Kind Kind // what is changed
	// Name is the rule's ID, the cohort or the site.
	Name string
	// Words say what is done otherwise: "without week 3".
	Words string
	// Input makes what the model is then fitted to. note says what else that
	// changes, or is "". nil: nothing would change, and Why says why.
	Input func(context.Context) (in model.Input, note string, err error)
	Why   string
	// Outages: the change switches off the outages that the study declares.
	Outages bool
}

// Outcome is what came of a change.
type Outcome struct {
	Change
	Note string // something to know of the change; may be empty
	// Err says why the change could not be made or the model not be fitted;
	// then there are no moves.
	Err error
	// Fish is the number of newly released fish the model was then fitted to.
	Fish int
	// Moves are those of the passed shares of all fish, by site, and then of
	// the other groups that both fits tell apart.
	Moves []Move
}

// Move is how the passed share of one group at one site moves; while the
// season runs the share that has passed so far. Values are NaN where they
// does not exist.
type Move struct {
	Of   []cjs.Category // empty: all fish
	Site int            // in the river of the fit
	// Before is the share of the fit, After that of the refit.
	Before, After cjs.Estimate
	// By is After − Before.
	By float64
	// OfMix is, for all fish where a cohort is left out, the part of By that
	// comes from the mean being over other fish, with no estimate changed; NaN
	// elsewhere.
	OfMix float64
}

// Influence is how the passed shares would move without one fish.
type Influence struct {
	// Record is the fish's record, Tag its tag or "".
	Record int
	Tag    string
	// Alike is the number of fish of which each would move them so: those of
	// the same history that the model cannot tell apart, itself included.
	Alike int
	Of    []cjs.Category
	// History is, site by site, 1 where the fish was seen (or let go) and 0
	// where not, a digit for each row.
	History string
	// Sites are those of all fish's passed table, By the moves of the passed
	// shares there; NaN where there is no share.
	Sites []int
	By    []float64
}

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (r Result) MarshalJSON() ([]byte, error)    { return plain.JSON(r) }
func (o Outcome) MarshalJSON() ([]byte, error)   { return plain.JSON(o) }
func (m Move) MarshalJSON() ([]byte, error)      { return plain.JSON(m) }
func (i Influence) MarshalJSON() ([]byte, error) { return plain.JSON(i) }
