package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/studyfile"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
)

func historiesCommand() *cli.Command {
	return &cli.Command{
		Name:      "histories",
		Usage:     "which fish was detected where: detection histories and their counts",
		UsageText: "unseen histories STUDY.toml [flags]",
		Description: "How many fish were detected at each site, and one line a fish: 1 where it was detected, 0\n" +
			"where not. With --csv the histories, the times of all passages, and a study file that fits\n" +
			"the same from the histories are written.\n\n" +
			"Example:  unseen histories study.toml --next-seen",
		Flags: append([]cli.Flag{
			&cli.BoolFlag{Name: "counts", DisableDefaultText: true, Usage: "count the fish with each distinct history"},
			&cli.BoolFlag{Name: "next-seen", DisableDefaultText: true, Usage: "show the next-seen table: released at a site, next seen at each site below"},
			line.AsOfFlag(), line.FullFlag("every line of the table"),
		}, line.OutputFlags()...),
		Action: historiesAction,
	}
}

// briefLines are the lines of a table of counts that stand on one screen, and
// briefFish the fish, whose table is cut in two.
const briefLines, briefFish = 20, 8

func historiesAction(c *cli.Context) error {
	if c.Bool("counts") && c.Bool("next-seen") {
		return line.Errorf("give --counts or --next-seen, not both")
	}
	d, err := line.Open(c, ingest.Options{})
	if err != nil {
		return err
	}
	h := d.Histories
	page := view.Page{Title: d.Source().Name(), Stamp: view.Stamp(d)}
	part, section := wire.Records, view.Section{Paragraphs: []string{view.HistoriesAnswer(h)}}
	switch {
	case c.Bool("counts"):
		part = wire.Counts
		section.Tables = []view.Table{view.DistinctTable(h)}
	case c.Bool("next-seen"):
		part = wire.NextSeens
		section.Tables = []view.Table{view.NextSeenTable(h)}
	default:
		section.Tables = []view.Table{view.HistoriesTable(h, d.Flags), view.PassagesTable(h)}
	}
	if d.HasSightings() {
		section.Notes = []string{view.AccountingLine(&d.Accounting)}
	}
	if part == wire.Records {
		section.Notes = append(section.Notes, view.SingleFish)
	}
	page.Sections = []view.Section{section}
	lines := briefLines
	if part == wire.Records {
		lines = briefFish
	}
	a := line.Answer{Page: page, Brief: view.Shortened(page, lines), Doc: func(head wire.Head) any {
		return wire.NewHistories(head, d, part)
	}}
	if part == wire.Records {
		a.Files = func(set *atomicfile.Set) error {
			w, err := set.Create("histories.toml")
			if err != nil {
				return err
			}
			return studyfile.ForHistories(w, d.Study, h, "histories.csv")
		}
	}
	return line.Show(c, d.Source(), a)
}
