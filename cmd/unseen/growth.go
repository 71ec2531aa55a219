package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/ingest"
)

func growthCommand() *cli.Command {
	return &cli.Command{
		Name:      "growth",
		Usage:     "lengths and weights, data-entry errors in them, growth between captures",
		UsageText: "unseen growth STUDY.toml [flags]",
		Description: "Summarises the tagging table, finds lengths and weights that do not match, compares\n" +
			"the weight of tags and fish, and with [recaptures] in the study describes growth and condition.\n\n" +
			"Example:  unseen growth study.toml --tag-weight 0.105",
		Flags: append(append([]cli.Flag{
			line.NumberFlag(line.Between(0, 1000, "0.105"), cli.Float64Flag{Name: "tag-weight", DefaultText: "none", Usage: "weight in air of tags without tag_weight_g, in `GRAMS`"}),
		}, line.OutputFlags()...), line.AsOfFlag()),
		Action: growthAction,
	}
}

func growthAction(c *cli.Context) error {
	opt := growth.Options{TagWeightG: c.Float64("tag-weight")}
	d, err := line.Open(c, ingest.Options{})
	if err != nil {
		return err
	}
	r, caught, err := d.Growth(c.Context, opt)
	if err != nil {
		return err
	}
	return line.Show(c, d.Source(), line.Answer{
		Page: view.GrowthPage(d, r, caught),
		Doc:  func(head wire.Head) any { return wire.NewGrowth(head, d, r, caught) },
	})
}
