package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
)

func travelCommand() *cli.Command {
	return &cli.Command{
		Name:      "travel",
		Usage:     "travel times, and when the fish arrived",
		UsageText: "unseen travel STUDY.toml [flags]",
		Description: "Days and speeds over each reach and the whole path, arrival dates as seen and corrected for\n" +
			"detection, and the law of travel: migration rate and spread.\n\n" +
			"Example:  unseen travel study.toml --csv travel",
		Flags: append(append(append([]cli.Flag{
			&cli.BoolFlag{Name: "from-last", DisableDefaultText: true, Usage: "measure from the last detection above, not the first"},
		}, line.ModelFlags()...), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("each cohort")),
		Action: travelAction,
	}
}

func travelAction(c *cli.Context) error {
	d, f, err := line.OpenAndFit(c)
	if err != nil {
		return err
	}
	r, err := f.Travel(c.Context, travel.Options{FromLast: c.Bool("from-last")})
	if err != nil {
		return err
	}
	return line.Show(c, d.Source(), line.Answer{
		Page: view.TravelPage(d, r), Brief: view.BriefTravelPage(d, r),
		Doc: func(head wire.Head) any { return wire.NewTravel(head, d, r) },
	})
}
