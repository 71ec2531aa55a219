package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/studyfile"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
)

func historiesCommand() *cli.Command {
	return &cli.Command{
		Name:      "histories",
		Usage:     "which fish was sighted where: detection histories and their counts",
		UsageText: "unseen histories STUDY.toml [flags]",
		Description: "One record a fish: 1 where it was sighted, 0 where not. With --csv the histories, the times\n" +
			"of all passages, and a study file that fits the same from the histories are written.\n\n" +
			"Example:  unseen histories study.toml --next-seen",
		Flags: append([]cli.Flag{
			&cli.BoolFlag{Name: "counts", DisableDefaultText: true, Usage: "count the fish with each distinct history"},
			&cli.BoolFlag{Name: "next-seen", DisableDefaultText: true, Usage: "show the next-seen table: released at a site, next seen at each site below"},
			asOfFlag(),
		}, outputFlags()...),
		Action: historiesAction,
	}
}

func historiesAction(c *cli.Context) error {
	if c.Bool("counts") && c.Bool("next-seen") {
		return callError("give --counts or --next-seen, not both")
	}
	d, err := open(c, ingest.Options{})
	if err != nil {
		return err
	}
	h := d.Histories
	page := view.Page{Title: d.Source().Name(), Stamp: view.Stamp(d)}
	part, section := wire.Records, view.Section{}
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
	a := answer{page: page, doc: func(head wire.Head) any {
		return wire.NewHistories(head, d, part)
	}}
	if part == wire.Records {
		a.files = func(set *atomicfile.Set) error {
			w, err := set.Create("histories.toml")
			if err != nil {
				return err
			}
			return studyfile.ForHistories(w, d.Study, h, "histories.csv")
		}
	}
	return show(c, d.Source(), a)
}
