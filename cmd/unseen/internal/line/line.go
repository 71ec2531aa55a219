// Package line is what the commands share of the command line: flags and what
// they refuse, the study that is read and the model that is fitted, the answer
// in the form asked for, and errors in the line's words.
package line

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// OutputFlags are the forms of output besides text, of every command.
func OutputFlags() []cli.Flag {
	return append([]cli.Flag{JSONFlag()}, TableFlags()...)
}

// JSONFlag is of every command with a document.
func JSONFlag() cli.Flag {
	return &cli.BoolFlag{Name: "json", DisableDefaultText: true, Usage: "write JSON, in full precision, instead of text"}
}

// AsOfFlag overrides the study's as_of.
func AsOfFlag() cli.Flag {
	return &cli.StringFlag{Name: "as-of", Usage: "count only what came before `TIME` (a date counts whole; or today)"}
}

// StudyPath is the one positional argument. A folder stands for the study.toml
// in it.
func StudyPath(c *cli.Context) (string, error) {
	if c.NArg() != 1 {
		if _, err := os.Stat("study.toml"); c.NArg() == 0 && err == nil {
			return "", Errorf("%s needs a study file; that of this folder: unseen %s study.toml", c.Command.Name, c.Command.Name)
		}
		if c.NArg() == 0 {
			return "", Errorf("%s needs a study file: unseen %s STUDY.toml", c.Command.Name, c.Command.Name)
		}
		return "", Errorf("%s takes one study file, not %d: %q", c.Command.Name, c.NArg(), c.Args().Slice())
	}
	return StudyFile(c.Args().First())
}

// StudyFile is the study file that a path on the line means.
func StudyFile(given string) (string, error) {
	path := given
	info, err := os.Stat(path)
	switch {
	case Missing(path, err):
		return "", Errorf("there is no file %s; to begin with your own tables: unseen new, with a study made up: unseen demo DIR", path)
	case err != nil:
		return "", err
	case info.IsDir():
		path = filepath.Join(path, "study.toml")
		if _, err := os.Stat(path); err != nil {
			return "", Errorf("%s is a folder without a study.toml; give the study file", given)
		}
	}
	if end := strings.ToLower(filepath.Ext(path)); end == ".json" || table.IsTable(path) {
		what := map[bool]string{true: "a result", false: "a table"}[end == ".json"]
		return "", Errorf("%s is %s and no study file; give study.toml, or make one from tables: unseen new FOLDER", path, what)
	}
	return path, nil
}

// speechKey is where the app keeps how texts of the study last read speak.
const speechKey = "speech"

// Said is an error in the words of the study that the app read last.
func Said(app *cli.App, err error) string {
	if say, _ := app.Metadata[speechKey].(func(string) string); say != nil {
		return say(err.Error())
	}
	return err.Error()
}

// Open reads the study that the command names.
func Open(c *cli.Context, opt ingest.Options) (*analysis.Data, error) {
	path, err := StudyPath(c)
	if err != nil {
		return nil, err
	}
	return OpenPath(c, path, opt)
}

// OpenPath reads the study of a path.
func OpenPath(c *cli.Context, path string, opt ingest.Options) (*analysis.Data, error) {
	st, err := study.Load(path)
	if err != nil {
		return nil, err
	}
	c.App.Metadata[speechKey] = speech.Of(st)
	if s := c.String("as-of"); s != "" {
		if opt.AsOf, err = analysis.Moment(s, st.Location); err != nil {
			return nil, Errorf("--as-of %w", err)
		}
	}
	bar := progress.New(c.App.ErrWriter, "reading sightings", "records")
	defer bar.Done()
	opt.Progress = bar.Update
	d, err := analysis.Read(c.Context, st, opt)
	if err != nil {
		return nil, err
	}
	if n := len(d.Histories.Cohorts); n > maxCohorts {
		return nil, fmt.Errorf("%s has %s cohorts for %s fish; at most %s can be told apart: a cohort is a group of fish released together, not a single fish or a moment",
			path, view.Digits(float64(n), 0), view.Digits(float64(d.Histories.Fish()), 0), view.Digits(maxCohorts, 0))
	}
	return d, nil
}

// maxCohorts is the most cohorts a study may have: every table has a row or more
// for each.
const maxCohorts = 5000

// Answer is what a command gives back, in each of its forms.
type Answer struct {
	// Kind of the document, where it is not the command's name.
	Kind string
	Page view.Page
	// Brief is what a person is shown in place of the page without --full, where it
	// has sections.
	Brief view.Page
	Doc   func(wire.Head) any
	// Files writes what --csv holds besides the page's tables; may be nil.
	Files func(*atomicfile.Set) error
}

// Show writes an answer in the form asked for.
func Show(c *cli.Context, from analysis.Source, a Answer) error {
	a.Page = view.Stamped(from, a.Page)
	to, err := BeginTables(c)
	if err != nil {
		return err
	}
	if err := to.Commit(c, from, a.Page, a.Files); err != nil {
		return err
	}
	if c.Bool("json") {
		return wire.Write(c.App.Writer, a.Doc(wire.NewHead(cmp.Or(a.Kind, c.Command.Name), Version(), from)))
	}
	if len(a.Brief.Sections) > 0 && !c.Bool("full") {
		return text.Write(c.App.Writer, view.Stamped(from, a.Brief).Spoken(from))
	}
	return text.Write(c.App.Writer, a.Page.Spoken(from))
}
