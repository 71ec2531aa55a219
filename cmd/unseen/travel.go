package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
)

func travelCommand() *cli.Command {
	return &cli.Command{
		Name:      "travel",
		Usage:     "how long the fish took, and when they came",
		UsageText: "unseen travel STUDY.toml [flags]",
		Description: "Days and speeds over each reach and the whole path, arrival dates as seen and corrected for\n" +
			"detection, and the law of a migrant that drifts and spreads.\n\n" +
			"Example:  unseen travel study.toml --csv travel",
		Flags: append(append(append([]cli.Flag{
			&cli.BoolFlag{Name: "from-last", DisableDefaultText: true, Usage: "measure from the last sighting above, not the first"},
		}, modelFlags()...), outputFlags()...), asOfFlag(), fullFlag("each cohort")),
		Action: travelAction,
	}
}

func travelAction(c *cli.Context) error {
	d, f, err := openAndFit(c)
	if err != nil {
		return err
	}
	r, err := f.Travel(c.Context, travel.Options{FromLast: c.Bool("from-last")})
	if err != nil {
		return err
	}
	return show(c, d.Source(), answer{
		page: view.TravelPage(d, r), brief: view.BriefTravelPage(d, r),
		doc: func(head wire.Head) any { return wire.NewTravel(head, d, r) },
	})
}
