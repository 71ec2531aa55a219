package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
)

func fitCommand() *cli.Command {
	return &cli.Command{
		Name:      "fit",
		Usage:     "how many fish passed each site, survival, and detection probability at each site",
		UsageText: "unseen fit STUDY.toml [flags]",
		Description: "Fits survival in each reach and detection at each site by maximum likelihood. If no\n" +
			"model is given on the command line, the study's first [[model]] is fitted; if it has none,\n" +
			"survival \"reach by cohort\" with detection \"row\". An interval is symmetric on the logit\n" +
			"scale, or by profile likelihood where that cannot be trusted (--interval auto): \"method\"\n" +
			"in JSON and CSV says which.\n\n" +
			"Example:  unseen fit study.toml --survival \"reach + cohort\" --detection site",
		Flags: append(append(append(line.ModelFlags(), bootstrapFlags()...), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("survival, detection, effects, cautions"),
			&cli.BoolFlag{Name: "what-if", DisableDefaultText: true, Usage: "refit with each rule, cohort and site changed; influential fish"},
			&cli.BoolFlag{Name: "second-opinion", DisableDefaultText: true, Usage: "refit with other optimisers, each from many starts"},
			&cli.BoolFlag{Name: "assumptions", DisableDefaultText: true, Usage: "show the assumptions of a fit, and stop"}),
		Action: fitAction,
	}
}

func fitAction(c *cli.Context) error {
	if c.Bool("assumptions") {
		page := view.Assumptions()
		if c.Args().Present() { // in the words of that study
			d, err := line.Open(c, ingest.Options{})
			if err != nil {
				return err
			}
			page = page.Spoken(d.Source())
		}
		return text.Write(c.App.Writer, page)
	}
	opt, err := line.Options(c)
	if err != nil {
		return err
	}
	d, err := line.Open(c, ingest.Options{})
	if err != nil {
		return err
	}
	return fitAndShow(c, d, opt)
}

func fitAndShow(c *cli.Context, d *analysis.Data, opt analysis.Options) error {
	f, err := line.Fit(c, d, opt)
	if err != nil {
		return err
	}
	if err := askMore(c, f); err != nil {
		return err
	}
	err = line.Show(c, d.Source(), line.Answer{
		Kind: "fit", // of the demo too
		Page: view.FitPage(f), Brief: view.BriefFitPage(f),
		Doc: func(head wire.Head) any { return wire.NewFit(head, f) },
	})
	if err == nil {
		err = line.Usable(f)
	}
	return err
}

// askMore asks of a fit what the line asks besides.
func askMore(c *cli.Context, f *analysis.Fitted) error {
	if c.String("interval") == "bootstrap" {
		if err := bootstrap(c, f); err != nil {
			return err
		}
	}
	if c.Bool("what-if") {
		bar := progress.New(c.App.ErrWriter, "fitting again", "fits")
		err := f.AskWhatIf(c.Context, bar.Step)
		bar.Done()
		if err != nil {
			return err
		}
	}
	if c.Bool("second-opinion") {
		bar := progress.New(c.App.ErrWriter, "asking other optimisers", "runs")
		defer bar.Done()
		return f.AskOthers(c.Context, bar.Step)
	}
	return nil
}
