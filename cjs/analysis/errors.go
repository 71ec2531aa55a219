package analysis

import (
	"fmt"
	"strings"
)

// ID says what an [Error] is about.
type ID string

// What can be refused.
const (
	// NameAndTerms: a model was chosen by name and in terms.
	NameAndTerms ID = "name-and-terms"
	// NoModels: a model was chosen by Name, and the study names none.
	NoModels ID = "no-models"
	// NoSuchModel: the study has no model of that Name; Known are its models.
	NoSuchModel ID = "no-such-model"
	// NoInflation: no table can be tested, so the variance inflation cannot be
	// estimated.
	NoInflation ID = "no-inflation"
	// NoDay: there is no day to replay.
	NoDay ID = "no-day"
	// NothingYet: on no day of a replay could anything be estimated; Name is
	// the last, Cause why not on it.
	NothingYet ID = "nothing-yet"
	// NotConverged: the fit that is to be the ground of Name, "plan" or
	// "simulation", did not converge.
	NotConverged ID = "not-converged"
	// OtherRiver: the truth to simulate is of other sites than the study; Name
	// are the study's, Known the truth's.
	OtherRiver ID = "other-river"
	// NotANumber: a plan was to have its variance inflation estimated; it has
	// no data.
	NotANumber ID = "not-a-number"
	// Unclear: a question in words is not understood; Cause says why.
	Unclear ID = "unclear"
)

// Error refuses an analysis. Programs match the ID, and word the facts for
// their own users; its text is for those that do not.
type Error struct {
	ID ID // what was wrong
	// Path of the study, where the error is about it.
	Path string
	// Name is what was asked for, Known what there is.
	Name  string
	Known []string
	Cause error
}

func (e *Error) Unwrap() error { return e.Cause }

func (e *Error) Error() string {
	switch e.ID {
	case NameAndTerms:
		return "give a model by name or in terms, not both"
	case NoModels:
		return fmt.Sprintf("%s has no [[model]]; give terms", e.Path)
	case NoSuchModel:
		return fmt.Sprintf("%s has no model %q; its models are %s", e.Path, e.Name, strings.Join(e.Known, ", "))
	case NoInflation:
		return "the variance inflation cannot be estimated: no table of the checks of fit can be tested; give a number"
	case NoDay:
		return "there is no day to replay: no fish has a release time"
	case NothingYet:
		return fmt.Sprintf("nothing can be said yet: on none of the days looked at could anything be estimated; by the last, %s: %v", e.Name, e.Cause)
	case NotANumber:
		return "a plan has no data to estimate the variance inflation from; give a number"
	case NotConverged:
		return fmt.Sprintf("the fit of %s did not converge, so no %s is made from it", e.Path, e.Name)
	case OtherRiver:
		return fmt.Sprintf("the study has the sites %s, the truth %v; they must be the same", e.Name, e.Known)
	}
	if e.Cause == nil {
		return string(e.ID)
	}
	return e.Cause.Error()
}
