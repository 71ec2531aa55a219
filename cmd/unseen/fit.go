package main

import (
	"github.com/urfave/cli/v2"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
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
		Flags: append(append(append(modelFlags(), bootstrapFlags()...), outputFlags()...), asOfFlag(), fullFlag("survival, detection, effects, cautions"),
			&cli.BoolFlag{Name: "what-if", DisableDefaultText: true, Usage: "refit with each rule, cohort and site changed; influential fish"},
			&cli.BoolFlag{Name: "second-opinion", DisableDefaultText: true, Usage: "refit with other optimisers, each from many starts"},
			&cli.BoolFlag{Name: "assumptions", DisableDefaultText: true, Usage: "show what a fit assumes, and stop"}),
		Action: fitAction,
	}
}

// fullFlag has more shown than one screen holds.
func fullFlag(more string) cli.Flag {
	return &cli.BoolFlag{Name: "full", DisableDefaultText: true, Usage: "show all: " + more + "; JSON and CSV always have all"}
}

// modelFlags choose a model and how its intervals are made.
func modelFlags() []cli.Flag { return append(choiceFlags(), intervalFlags()...) }

// choiceFlags choose a model.
func choiceFlags() []cli.Flag {
	flags := []cli.Flag{&cli.StringFlag{Name: "model", Usage: "fit the study's [[model]] called `NAME`"}}
	for _, p := range study.Parts {
		flags = append(flags, &cli.StringFlag{Name: p.Key, Usage: "`TERMS` of " + p.About + ": " + p.Takes})
	}
	return append(flags, linkFlags()...)
}

// optionFlags are how any model is fitted and its intervals are made.
func optionFlags() []cli.Flag { return append(linkFlags(), intervalFlags()...) }

func linkFlags() (flags []cli.Flag) {
	for _, p := range study.Parts {
		if p.Links != nil {
			flags = append(flags, &cli.StringFlag{Name: p.LinkFlag(), Usage: "`LINK` " + p.LinkWords()})
		}
	}
	return flags
}

// intervalFlags are how intervals are made.
func intervalFlags() []cli.Flag {
	return []cli.Flag{levelFlag(),
		&cli.StringFlag{Name: "interval", Value: "auto", DefaultText: "auto", Usage: "`METHOD` logit, profile; fit: bootstrap"},
		&cli.StringFlag{Name: "variance-inflation", Value: "1", DefaultText: "1", Usage: "multiply variances by `NUMBER`, or auto"}}
}

// linksOf gives spec the links on the line.
func linksOf(c *cli.Context, spec *model.Spec) {
	for _, p := range study.Parts {
		if p.Links != nil {
			spec.SetLink(model.Part(p.Key), c.String(p.LinkFlag()))
		}
	}
}

func fitAction(c *cli.Context) error {
	if c.Bool("assumptions") {
		return text.Write(c.App.Writer, view.Assumptions())
	}
	opt, err := fitOptions(c)
	if err != nil {
		return err
	}
	d, err := open(c, ingest.Options{})
	if err != nil {
		return err
	}
	return fitAndShow(c, d, opt)
}

// openAndFit reads the study on the line and fits the model chosen there.
func openAndFit(c *cli.Context) (*analysis.Data, *analysis.Fitted, error) {
	opt, err := fitOptions(c)
	if err != nil {
		return nil, nil, err
	}
	d, err := open(c, ingest.Options{})
	if err != nil {
		return nil, nil, err
	}
	f, err := fit(c, d, opt)
	return d, f, err
}

func fitOptions(c *cli.Context) (analysis.Options, error) {
	opt := analysis.Options{Options: cjs.Options{Level: c.Float64("level"), Interval: c.String("interval")}}
	if opt.Interval == "bootstrap" && c.Command.Name == "fit" {
		opt.Interval = "auto" // until there are replicates
	}
	if !slices.Contains([]string{"auto", "logit", "profile"}, opt.Interval) {
		return opt, callError("--interval is %q; it is auto, logit or profile", opt.Interval)
	}
	inflation := c.String("variance-inflation")
	if inflation == "auto" {
		opt.EstimateInflation = true
		return opt, nil
	}
	var err error
	opt.VarianceInflation, err = inflations.parse("variance-inflation", inflation)
	return opt, err
}

// checkMovement refuses terms of movement where there is no as_of.
func checkMovement(c *cli.Context, running bool) error {
	for _, p := range study.Parts {
		if p.Running && c.IsSet(p.Key) && !running && c.Command.Name != "season" {
			return callError("--%s belongs to a season that still runs; give --as-of, or as_of in the study", p.Key)
		}
	}
	return nil
}

// choice is the model that the line asks for.
func choice(c *cli.Context) analysis.Choice {
	asked := analysis.Choice{Name: c.String("model")}
	for _, p := range study.Parts {
		asked.SetTerms(model.Part(p.Key), c.String(p.Key))
	}
	linksOf(c, &asked)
	return asked
}

// chosen is the model of the study that the line chooses.
func chosen(c *cli.Context, d *analysis.Data) (model.Spec, error) {
	if err := checkMovement(c, d.Timed()); err != nil {
		return model.Spec{}, err
	}
	return d.Spec(choice(c))
}

// fit fits the model that the line chooses.
func fit(c *cli.Context, d *analysis.Data, opt analysis.Options) (*analysis.Fitted, error) {
	spec, err := chosen(c, d)
	if err != nil {
		return nil, err
	}
	return d.Fit(c.Context, spec, opt)
}

func fitAndShow(c *cli.Context, d *analysis.Data, opt analysis.Options) error {
	f, err := fit(c, d, opt)
	if err != nil {
		return err
	}
	if err := askMore(c, f); err != nil {
		return err
	}
	err = show(c, d.Source(), answer{
		kind: "fit", // of the demo too
		page: view.FitPage(f), brief: view.BriefFitPage(f),
		doc: func(head wire.Head) any { return wire.NewFit(head, f) },
	})
	if err == nil {
		err = usable(f)
	}
	return err
}

// usable is an error where the numbers of f are not to be used.
func usable(f *analysis.Fitted) error {
	if f.Fit.Verdict != cjs.Converged || f.Opinion != nil && f.Opinion.Better() {
		return errNotUsable
	}
	return nil
}
