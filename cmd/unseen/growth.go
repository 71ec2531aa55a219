package main

import (
	"context"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/session"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/ingest"
)

func growthCommand() *cli.Command {
	return &cli.Command{
		Name:      "growth",
		Usage:     "lengths and weights, typing errors in them, growth between captures",
		UsageText: "unseen growth STUDY.toml [flags]",
		Description: "Summarises the tagging table, finds lengths and weights that do not go together, weighs\n" +
			"tags against fish, and with [recaptures] in the study follows growth and condition.\n\n" +
			"Example:  unseen growth study.toml --tag-weight 0.105",
		Flags: append(append([]cli.Flag{
			numberFlag(between(0, 1000, "0.105"), cli.Float64Flag{Name: "tag-weight", DefaultText: "none", Usage: "weight in air of tags without tag_weight_g, in `GRAMS`"}),
		}, outputFlags()...), asOfFlag()),
		Action: growthAction,
	}
}

func growthAction(c *cli.Context) error {
	opt := growth.Options{TagWeightG: c.Float64("tag-weight")}
	d, err := open(c, ingest.Options{})
	if err != nil {
		return err
	}
	r, caught, err := growthOf(c.Context, d, opt)
	if err != nil {
		return err
	}
	return show(c, d, answer{
		page: view.GrowthPage(d, r, caught),
		doc:  func() any { return wire.NewGrowth(wire.NewHead("growth", version(), d), d, r, caught) },
	})
}

// growthOf reads the recaptures, nil where the study has none, and works out
// growth.
func growthOf(ctx context.Context, d *session.Data, opt growth.Options) (*growth.Result, *growth.Recaptures, error) {
	var caught *growth.Recaptures
	if d.Study.Recaptures != nil {
		read, inputs, err := ingest.ReadRecaptures(ctx, d.Study, d.Histories)
		if err != nil {
			return nil, nil, err
		}
		caught, d.Inputs = read, append(d.Inputs, inputs...)
	}
	r, err := growth.New(d.Histories, caught, opt)
	return r, caught, err
}
