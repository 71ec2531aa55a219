package main

import (
	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
)

func assessCommand() *cli.Command {
	return &cli.Command{
		Name:      "assess",
		Usage:     "does the model fit: a fish's fate must not depend on its past",
		UsageText: "unseen assess STUDY.toml [flags]",
		Description: "Splits the fish at each site by their past and compares their future, says in plain words\n" +
			"what differs, and gives the variance inflation.\n\n" +
			"Example:  unseen assess study.toml --tables",
		Flags: append(append(append([]cli.Flag{
			&cli.BoolFlag{Name: "tables", DisableDefaultText: true, Usage: "show all, every contingency table too"},
		}, line.ChoiceFlags()...), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("why a check was not tested, whether the cohorts are alike")),
		Action: assessAction,
	}
}

func assessAction(c *cli.Context) error {
	d, err := line.Open(c, ingest.Options{})
	if err != nil {
		return err
	}
	// Nothing that is shown has an interval, and the variance inflation is asked.
	f, err := line.Fit(c, d, analysis.Options{})
	if err != nil {
		return err
	}
	r, covariates := assess.OfModel(f.Fit.Problem), assess.Covariates(f.Fit)
	a := line.Answer{
		Page: view.AssessPage(f, r, covariates, c.Bool("tables")),
		Doc:  func(head wire.Head) any { return wire.NewAssess(head, f, r, covariates) },
	}
	if !c.Bool("tables") {
		a.Brief = view.BriefAssessPage(f, r, covariates)
	}
	return line.Show(c, d.Source(), a)
}
