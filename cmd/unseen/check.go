package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/tablefile"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/sighting"
)

func checkCommand() *cli.Command {
	return &cli.Command{
		Name:      "check",
		Usage:     "what is wrong with the data, and where every record ended",
		UsageText: "unseen check STUDY.toml [flags]",
		Description: "Accounts for every sighting record, and lists what could change the estimates, most serious\n" +
			"first. With --csv every record that was set aside is written with its rule.\n\n" +
			"Example:  unseen check study.toml --csv checked",
		Flags: append([]cli.Flag{
			&cli.BoolFlag{Name: "duplicates", DisableDefaultText: true, Usage: "count exact duplicate records, in a second pass over the files"},
		}, append(line.OutputFlags(), line.AsOfFlag())...),
		Action: checkAction,
	}
}

func checkAction(c *cli.Context) error {
	to, err := line.BeginTables(c)
	if err != nil {
		return err
	}
	defer to.Discard()
	var opt ingest.Options
	var aside tablefile.Rows
	if to.Wanted() {
		// The records set aside are written as they are read, so their table is
		// begun before there is anything to show.
		if aside, err = to.Begin(setAsideID, setAsideColumns); err != nil {
			return to.Worded(err)
		}
		opt.SetAside = func(r sighting.SetAside) error { return to.Worded(aside.Add(setAsideRow(r))) }
	}
	d, err := line.Open(c, opt)
	if err != nil {
		return err
	}
	duplicates, err := countDuplicates(c, d)
	if err != nil {
		return err
	}
	page := view.CheckPage(d, duplicates)
	if aside != nil {
		if err := aside.End(); err != nil {
			return to.Worded(err)
		}
		page.Sections = append(page.Sections, view.Section{Notes: []string{view.SingleFish}})
	}
	if err := to.Commit(c, d.Source(), page, nil); err != nil {
		return err
	}
	if c.Bool("json") {
		return wire.Write(c.App.Writer, wire.NewCheck(wire.NewHead("check", line.Version(), d.Source()), d, duplicates))
	}
	return text.Write(c.App.Writer, page.Spoken(d.Source()))
}

// countDuplicates is nil where nobody asked.
func countDuplicates(c *cli.Context, d *analysis.Data) (*sighting.DuplicateCount, error) {
	if !c.Bool("duplicates") {
		return nil, nil
	}
	bar := progress.New(c.App.ErrWriter, "looking for duplicates", "records")
	defer bar.Done()
	dir, remove, err := atomicfile.MkdirTemp()
	if err != nil {
		return nil, err
	}
	defer remove()
	return ingest.Duplicates(c.Context, d.Study, ingest.Options{Progress: bar.Update, Temp: dir})
}

// setAsideID is the table of the records set aside, with the rule that did it.
const setAsideID = "set_aside"

var setAsideColumns = []string{"file", "line", "rule", "name", "tag", "site", "antenna", "time", "reason"}

func setAsideRow(r sighting.SetAside) []tablefile.Value {
	return []tablefile.Value{tablefile.T(r.File), tablefile.N(float64(r.Line)), tablefile.T(r.Rule), tablefile.T(r.Name), tablefile.T(r.Tag),
		tablefile.T(r.Site), tablefile.T(r.Antenna), tablefile.T(r.Time), tablefile.T(r.Reason)}
}
