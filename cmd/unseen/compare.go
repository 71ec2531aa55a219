package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
)

func compareCommand() *cli.Command {
	return &cli.Command{
		Name:      "compare",
		Usage:     "which model the data support, and estimates averaged over the models",
		UsageText: "unseen compare STUDY.toml [flags]",
		Description: "Fits every [[model]] of the study, or the grid that --survival and --detection span when\n" +
			"they are given (each may be repeated; --drift, --spread and --rest too while the season runs),\n" +
			"and ranks them by AICc. With as_of the times of passage are data of every model; such fits and\n" +
			"fits without as_of are never ranked together.\n\n" +
			"Example:  unseen compare study.toml --survival reach --survival \"reach + cohort\" --detection site",
		Flags: append(append(append([]cli.Flag{
			&cli.StringSliceFlag{Name: "survival", Usage: "`TERMS` of survival; repeat it to compare"},
			&cli.StringSliceFlag{Name: "detection", Usage: "`TERMS` of detection; repeat it to compare"},
			&cli.StringSliceFlag{Name: "drift", Usage: "`TERMS` of drift, with as_of; repeat it to compare"},
			&cli.StringSliceFlag{Name: "spread", Usage: "`TERMS` of spread, with as_of; repeat it to compare"},
			&cli.StringSliceFlag{Name: "rest", Usage: "`TERMS` of a rest, with as_of; \"\" is none; repeat it"},
			&cli.StringFlag{Name: "test", Usage: "test the model called `NAME` …"},
			&cli.StringFlag{Name: "against", Usage: "… against the wider model called `NAME`"},
		}, optionFlags()...), outputFlags()...), asOfFlag()),
		Action: compareAction,
	}
}

func compareAction(c *cli.Context) error {
	opt, err := fitOptions(c)
	if err != nil {
		return err
	}
	if (c.String("test") == "") != (c.String("against") == "") {
		return callError("--test and --against go together: a model, and a wider one")
	}
	d, err := open(c, ingest.Options{})
	if err != nil {
		return err
	}
	var specs []model.Spec
	grid := map[model.Part][]string{}
	for _, part := range append([]model.Part{model.Survival, model.Detection}, movementFlags...) {
		if terms := c.StringSlice(string(part)); len(terms) > 0 {
			grid[part] = terms
		}
	}
	if len(grid) > 0 {
		if err := checkMovement(c, d.Running()); err != nil {
			return err
		}
		specs = compare.Grid(grid, model.Spec{SurvivalLink: c.String("survival-link"), DetectionLink: c.String("detection-link")})
	} else {
		specs = d.Specs()
	}
	if len(specs) == 0 {
		return callError("%s has no [[model]] to compare; add some, or give --survival and --detection", d.Study.Path)
	}
	bar := progress.New(c.App.ErrWriter, "fitting", "models")
	r, err := d.Compare(c.Context, specs, opt, stepped(bar))
	bar.Done()
	if err != nil {
		return err
	}
	var test *compare.Test
	if c.String("test") != "" {
		a, err := r.Find(c.String("test"))
		if err != nil {
			return err
		}
		b, err := r.Find(c.String("against"))
		if err != nil {
			return err
		}
		if test, err = compare.Against(a, b); err != nil {
			return err
		}
	}
	return show(c, d.Source(), answer{
		page: view.ComparePage(d, r, test),
		doc:  func(head wire.Head) any { return wire.NewCompare(head, d, r, test) },
	})
}
