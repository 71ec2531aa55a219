package line

import (
	"errors"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/text"
)

// ErrNotUsable marks an answer that was shown but is not to be used.
var ErrNotUsable = errors.New("")

// Complain tells an error in the words of the study that it is of: on a terminal
// in lines of its width.
func Complain(app *cli.App, err error) {
	stderr := app.ErrWriter
	message := "unseen: " + harmless.Escape(Said(app, err))
	if text.OnTerminal(stderr) {
		message = text.Lines(message, text.Width(stderr), "  ")
	}
	fmt.Fprintln(stderr, message)
}

// Blamed is an error of a run in the words of the line that asked for it, told
// from those of the data where the line is to blame.
func Blamed(args []string, err error) error { return ofTheLine(args, worded(err)) }

// worded is an error in the words of the command line, which knows flags and
// commands that the analysis does not, and tells which are errors of the call.
func worded(err error) error {
	var e *analysis.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.ID {
	case analysis.NoModels:
		return Errorf("%s has no [[model]]; give --survival and --detection", e.Path)
	case analysis.NameAndTerms, analysis.NoSuchModel, analysis.Unclear:
		return Errorf("%w", err)
	case analysis.NotANumber:
		return Errorf("--variance-inflation auto needs a study; give a number for a plan")
	case analysis.NoInflation:
		return errors.New("the variance inflation cannot be estimated: no table of `unseen assess` can be tested; give a number")
	case analysis.NotConverged:
		if e.Name == "simulation" {
			return errors.New("the fit did not converge, so its estimates are nothing to simulate from; see unseen fit, or give --truth")
		}
		return fmt.Errorf("the fit of %s did not converge, so there is nothing to plan from; see unseen fit", e.Path)
	case analysis.OtherRiver:
		return fmt.Errorf("the study has the sites %s, the truth [%s]; they must be the same", e.Name, strings.Join(e.Known, " "))
	default:
		return err
	}
}

// ofTheLine makes a fault in terms or a link an error of the call where the line
// gave them.
func ofTheLine(args []string, err error) error {
	var fault *model.Fault
	if !errors.As(err, &fault) || errors.Is(err, ErrCall) {
		return err
	}
	flag := "--" + string(fault.Part)
	for _, a := range args {
		if name, _, _ := strings.Cut(a, "="); name == flag || name == flag+"-link" {
			return Errorf("%w", err)
		}
	}
	return err
}
