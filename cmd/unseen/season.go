package main

import (
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
)

func seasonCommand() *cli.Command {
	return &cli.Command{
		Name:      "season",
		Usage:     "a past season replayed: the estimate on each day, beside the final one",
		UsageText: "unseen season STUDY.toml [flags]",
		Description: "Replays a season: on each day the fish released and detections made by then are fitted with\n" +
			"allowance for fish still on their way, and with the season treated as complete. The final\n" +
			"estimate for the same fish stands next to both.\n\n" +
			"Example:  unseen season study.toml --every 5",
		Flags: append(append(append([]cli.Flag{
			line.CountFlag(1, line.ManyDays, "", cli.IntFlag{Name: "every", Value: 7, Usage: "replay the end of every `N`-th day"}),
			&cli.StringSliceFlag{Name: "on", Usage: "replay `DATE`,… (a date: its end) instead"},
		}, line.ModelFlags()...), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("the data available on each day, every site")),
		Action: seasonAction,
	}
}

func seasonAction(c *cli.Context) error {
	opt, err := line.Options(c)
	if err != nil {
		return err
	}
	if c.IsSet("every") && c.IsSet("on") {
		return line.Errorf("give --every or --on, not both")
	}
	d, err := line.Open(c, ingest.Options{})
	if err != nil {
		return err
	}
	days, err := replayDays(c, d)
	if err != nil {
		return err
	}
	spec, err := line.Spec(c, d)
	if err != nil {
		return err
	}
	bar := progress.New(c.App.ErrWriter, "replaying", "days")
	s, err := d.Season(c.Context, spec, opt, days, bar.Step)
	bar.Done()
	if err != nil {
		return err
	}
	return line.Show(c, d.Source(), line.Answer{
		Page: view.SeasonPage(s), Brief: view.BriefSeasonPage(s),
		Doc: func(head wire.Head) any { return wire.NewSeason(head, s) },
	})
}

// replayDays are the days the line asks for, in order.
func replayDays(c *cli.Context, d *analysis.Data) ([]time.Time, error) {
	if !c.IsSet("on") {
		return d.ReplayDays(c.Int("every")), nil
	}
	var days []time.Time
	for _, list := range c.StringSlice("on") {
		for _, s := range strings.Split(list, ",") {
			t, err := analysis.Moment(strings.TrimSpace(s), d.Study.Location)
			if err != nil {
				return nil, line.Errorf("--on %w", err)
			}
			if d.Running() && t.After(d.Study.AsOf) {
				return nil, line.Errorf("--on %s lies after as_of: the season's end is not known yet", s)
			}
			days = append(days, t)
		}
	}
	slices.SortFunc(days, time.Time.Compare)
	return slices.CompactFunc(days, time.Time.Equal), nil
}
