package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

func compareCommand() *cli.Command {
	return &cli.Command{
		Name:      "compare",
		Usage:     "which model the data support, and estimates averaged over the models",
		UsageText: "unseen compare STUDY.toml [flags]",
		Description: "Fits every [[model]] of the study, or every combination of --survival and --detection when\n" +
			"they are given (each may be repeated; --drift, --spread and --rest too while the season runs),\n" +
			"and ranks them by AICc. With as_of the times of passage are data of every model; such fits and\n" +
			"fits without as_of are never ranked together.\n\n" +
			"Example:  unseen compare study.toml --survival same --survival reach",
		Flags:  append(append(append(gridFlags(), line.OptionFlags()...), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("weights of terms, survival, detection, cautions")),
		Action: compareAction,
	}
}

// gridFlags span a grid of models, or test one against a wider one.
func gridFlags() []cli.Flag {
	var flags []cli.Flag
	for _, p := range study.Parts {
		flags = append(flags, &cli.StringSliceFlag{Name: p.Key, Usage: "`TERMS` of " + p.Repeat})
	}
	return append(flags,
		&cli.StringFlag{Name: "test", Usage: "test the model called `NAME` …"},
		&cli.StringFlag{Name: "against", Usage: "… against the wider model called `NAME`"})
}

func compareAction(c *cli.Context) error {
	opt, err := line.Options(c)
	if err != nil {
		return err
	}
	if (c.String("test") == "") != (c.String("against") == "") {
		return line.Errorf("--test and --against go together: a model, and a wider one")
	}
	d, err := line.Open(c, ingest.Options{})
	if err != nil {
		return err
	}
	var specs []model.Spec
	grid := map[model.Part][]string{}
	for _, part := range model.Parts() {
		if terms := c.StringSlice(string(part)); len(terms) > 0 {
			grid[part] = terms
		}
	}
	if len(grid) > 0 {
		if err := line.CheckMovement(c, d.Timed()); err != nil {
			return err
		}
		var base model.Spec
		line.SetLinks(c, &base)
		specs = compare.Grid(grid, base)
	} else {
		for _, p := range study.Parts {
			if p.Links != nil && c.String(p.LinkFlag()) != "" {
				return line.Errorf("--%s is of terms on the line, and the models are those of the study; give --%s too", p.LinkFlag(), p.Key)
			}
		}
		specs = d.Specs()
	}
	if len(specs) == 0 {
		return line.Errorf("%s has no [[model]] to compare; add some, or give terms to combine, such as --survival reach --survival \"reach + cohort\"", d.Study.Path)
	}
	if err := d.Mistyped(specs); err != nil {
		return err
	}
	bar := progress.New(c.App.ErrWriter, "fitting", "models")
	r, err := d.Compare(c.Context, specs, opt, bar.Step)
	bar.Done()
	if err != nil {
		return err
	}
	var test *compare.Test
	if c.String("test") != "" {
		a, err := r.Find(c.String("test"))
		if err != nil {
			return line.Errorf("--test: %w", err)
		}
		b, err := r.Find(c.String("against"))
		if err != nil {
			return line.Errorf("--against: %w", err)
		}
		if test, err = compare.Against(a, b); err != nil {
			return err
		}
	}
	return line.Show(c, d.Source(), line.Answer{
		Page: view.ComparePage(d, r, test), Brief: view.BriefComparePage(d, r, test),
		Doc: func(head wire.Head) any { return wire.NewCompare(head, d, r, test) },
	})
}
