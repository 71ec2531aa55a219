package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// outputFlags are the forms of output besides text, of every command.
func outputFlags() []cli.Flag {
	return append([]cli.Flag{jsonFlag()}, tableFlags()...)
}

func jsonFlag() cli.Flag {
	return &cli.BoolFlag{Name: "json", DisableDefaultText: true, Usage: "write JSON, in full precision, instead of text"}
}

// asOfFlag overrides the study's as_of.
func asOfFlag() cli.Flag {
	return &cli.StringFlag{Name: "as-of", Usage: "count only what came before `TIME` (a date counts whole; or today)"}
}

// studyPath is the one positional argument. A folder stands for the study.toml
// in it.
func studyPath(c *cli.Context) (string, error) {
	if c.NArg() != 1 {
		if c.NArg() == 0 {
			return "", callError("%s needs a study file: unseen %s STUDY.toml", c.Command.Name, c.Command.Name)
		}
		return "", callError("%s takes one study file, not %d: %q", c.Command.Name, c.NArg(), c.Args().Slice())
	}
	return existingStudy(c.Args().First())
}

// existingStudy is the study file that a path on the line means.
func existingStudy(given string) (string, error) {
	path := given
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", callError("there is no file %s; to begin with your own tables: unseen new, with a study made up: unseen demo DIR", path)
	case err != nil:
		return "", err
	case info.IsDir():
		path = filepath.Join(path, "study.toml")
		if _, err := os.Stat(path); err != nil {
			return "", callError("%s is a folder without a study.toml; give the study file", given)
		}
	}
	return path, nil
}

// open reads the study that the command names.
func open(c *cli.Context, opt ingest.Options) (*analysis.Data, error) {
	path, err := studyPath(c)
	if err != nil {
		return nil, err
	}
	return openPath(c, path, opt)
}

func openPath(c *cli.Context, path string, opt ingest.Options) (*analysis.Data, error) {
	st, err := study.Load(path)
	if err != nil {
		return nil, err
	}
	if s := c.String("as-of"); s != "" {
		if opt.AsOf, err = analysis.Moment(s, st.Location); err != nil {
			return nil, callError("--as-of %w", err)
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

// answer is what a command gives back, in each of its forms.
type answer struct {
	// kind of the document, where it is not the command's name.
	kind string
	page view.Page
	// brief is what a person is shown in place of the page without --full, where it
	// has sections.
	brief view.Page
	doc   func(wire.Head) any
	// files writes what --csv holds besides the page's tables; may be nil.
	files func(*atomicfile.Set) error
}

// show writes an answer in the form asked for.
func show(c *cli.Context, from analysis.Source, a answer) error {
	a.page = view.Stamped(from, a.page)
	to, err := beginTables(c)
	if err != nil {
		return err
	}
	if err := to.commit(c, from, a.page, a.files); err != nil {
		return err
	}
	if c.Bool("json") {
		return wire.Write(c.App.Writer, a.doc(wire.NewHead(cmp.Or(a.kind, c.Command.Name), version(), from)))
	}
	if len(a.brief.Sections) > 0 && !c.Bool("full") {
		return text.Write(c.App.Writer, view.Stamped(from, a.brief))
	}
	return text.Write(c.App.Writer, a.page)
}
