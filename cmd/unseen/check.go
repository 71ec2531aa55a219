package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/csvout"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/table"
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
		}, append(outputFlags(), asOfFlag())...),
		Action: checkAction,
	}
}

func checkAction(c *cli.Context) error {
	dir := c.String("csv")
	if dir == "" {
		d, err := open(c, ingest.Options{})
		if err != nil {
			return err
		}
		duplicates, err := countDuplicates(c, d)
		if err != nil {
			return err
		}
		return showCheck(c, d, duplicates)
	}
	// The records set aside are written as they are read, so their file is
	// begun before there is anything to show.
	set, err := atomicfile.NewSet(dir, atomicfile.Rule{})
	if err != nil {
		return fmt.Errorf("--csv %s: %w", dir, err)
	}
	defer set.Discard()
	w, err := set.Create("set_aside.csv")
	if err != nil {
		return fmt.Errorf("--csv %s: %w", dir, err)
	}
	out := newSetAside(w)
	d, err := open(c, ingest.Options{SetAside: out.add})
	if err != nil {
		return err
	}
	duplicates, err := countDuplicates(c, d)
	if err != nil {
		return err
	}
	if err := out.flush(); err != nil {
		return fmt.Errorf("--csv %s: %w", dir, err)
	}
	set.Keep(outputRule(c, d.Source()))
	err = csvout.Add(set, view.CheckPage(d, duplicates))
	if err == nil {
		err = set.Commit()
	}
	if err != nil {
		return fmt.Errorf("--csv %s: %w", dir, err)
	}
	return showCheck(c, d, duplicates)
}

// countDuplicates is nil where nobody asked.
func countDuplicates(c *cli.Context, d *analysis.Data) (*sighting.DuplicateCount, error) {
	if !c.Bool("duplicates") {
		return nil, nil
	}
	bar := progress.New(c.App.ErrWriter, "looking for duplicates", "records")
	defer bar.Done()
	return ingest.Duplicates(c.Context, d.Study, ingest.Options{Progress: bar.Update})
}

func showCheck(c *cli.Context, d *analysis.Data, duplicates *sighting.DuplicateCount) error {
	if c.Bool("json") {
		return wire.Write(c.App.Writer, wire.NewCheck(wire.NewHead("check", version(), d.Source()), d, duplicates))
	}
	return text.Write(c.App.Writer, view.CheckPage(d, duplicates))
}

// setAside writes the records set aside, with the rule that did it.
type setAside struct{ w *csv.Writer }

func newSetAside(w io.Writer) setAside {
	out := setAside{csv.NewWriter(w)}
	out.w.Write([]string{"file", "line", "rule", "name", "tag", "site", "antenna", "time", "reason"})
	return out
}

func (o setAside) add(r sighting.SetAside) error {
	record := []string{r.File, strconv.Itoa(r.Line), r.Rule, r.Name, r.Tag, r.Site, r.Antenna, r.Time, r.Reason}
	for i := range record {
		record[i] = table.Harmless(record[i])
	}
	return o.w.Write(record)
}

func (o setAside) flush() error {
	o.w.Flush()
	return o.w.Error()
}
