package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/explain"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/studyfile"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

func planCommand() *cli.Command {
	return &cli.Command{
		Name:      "plan",
		Usage:     "before a season: what precision to expect, how many fish it takes",
		UsageText: "unseen plan STUDY.toml|PLAN.toml [flags]\nunseen plan --new PLAN.toml",
		Description: "Gives the standard errors to expect when the season of a study is repeated, or of a plan\n" +
			"file with assumed survival and detection (docs/planning.md). --new writes an example plan\n" +
			"file with a comment on each key.\n\n" +
			"Example:  unseen plan plan.toml --want \"passed at Tidehead ± 5\" --options",
		Flags: append(append(append([]cli.Flag{
			&cli.StringSliceFlag{Name: "want", Usage: "sample size needed for `TARGET`, e.g. \"passed at Tidehead ± 5\""},
			&cli.BoolFlag{Name: "options", DisableDefaultText: true, Usage: "compare the plan's [[option]]s, or the usual ones"},
			&cli.StringSliceFlag{Name: "power", Usage: "detectable difference between a `PAIR` of cohorts: \"early vs late\""},
			line.NumberFlag(line.Between(0, 1, "0.05"), cli.Float64Flag{Name: "alpha", Value: 0.05, Usage: "significance `LEVEL` (type I error) for --power"}),
			line.NumberFlag(line.Between(0, 1, "0.8"), cli.Float64Flag{Name: "chance", Value: 0.8, Usage: "`POWER` for --power"}),
			line.CountFlag(1, line.ManyFish, "", cli.IntFlag{Name: "fish", DefaultText: "as planned", Usage: "tag `NUMBER` fish in all"}),
			line.CountFlag(10, line.ManyRuns, "; better 1000", cli.IntFlag{Name: "verify", DefaultText: "none", Usage: "simulate the plan `NUMBER` times"}),
			&cli.BoolFlag{Name: "with-outages", DisableDefaultText: true, Usage: "plan a study's season with rows at work for the same share of the passages"},
			&cli.StringFlag{Name: "figure", Usage: "draw half-width against fish into `FILE`.svg, .png or .pdf"},
			&cli.StringFlag{Name: "new", Usage: "write an example plan file to `FILE`, and stop"},
			&cli.StringFlag{Name: "save", Usage: "write the plan file to `FILE`, to be edited"},
			line.SeedFlag("`SEED` of the simulation"),
		}, line.ModelFlags()...), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("each cohort, where they are many")),
		Action: planAction,
	}
}

func planAction(c *cli.Context) error {
	if c.IsSet("new") {
		return newPlan(c)
	}
	q := analysis.Questions{Want: c.StringSlice("want"), Power: c.StringSlice("power"), Alpha: c.Float64("alpha"), Chance: c.Float64("chance"),
		Options: c.Bool("options"), Fish: c.Int("fish"), Verify: c.Int("verify"), Seed: c.Uint64("seed")}
	if err := figureName(c); err != nil {
		return err
	}
	q.Options = q.Options || c.String("figure") != "" // the figure is of them
	p, err := planOf(c)
	if err != nil {
		return err
	}
	if file := c.String("save"); file != "" {
		if err := savePlan(c, file, p); err != nil {
			return err
		}
	}
	bar := progress.New(c.App.ErrWriter, "simulating", "replicates")
	defer bar.Done()
	q.Done = bar.Counter(q.Verify)
	answers, err := p.Ask(c.Context, q)
	if err != nil {
		return err
	}
	if file := c.String("figure"); file != "" {
		if err := drawPlan(c, file, answers); err != nil {
			return err
		}
	}
	return line.Show(c, p.Source, line.Answer{
		Page: view.PlanPage(answers), Brief: view.BriefPlanPage(answers),
		Doc: func(head wire.Head) any { return wire.NewPlan(head, answers) },
	})
}

// newPlan writes the plan file of the documents, for a beginning.
func newPlan(c *cli.Context) error {
	file := c.String("new")
	for _, f := range c.Command.Flags {
		if name := f.Names()[0]; c.IsSet(name) && name != "new" && name != "force" {
			return line.Errorf("--new writes a plan file and no more; give --%s with the plan that you made of it", name)
		}
	}
	if c.NArg() > 0 || file == "" {
		return line.Errorf("--new takes the file to write and no study: unseen plan --new PLAN.toml; the plan of a study: unseen plan STUDY.toml --save PLAN.toml")
	}
	plan := explain.File("planning.md", "toml")
	err := atomicfile.Write(file, line.OutputRule(c, analysis.Source{}), func(w io.Writer) error {
		_, err := io.WriteString(w, plan)
		return err
	})
	if err == nil {
		return text.Write(c.App.Writer, view.Page{Sections: []view.Section{{Paragraphs: []string{
			file + " is a plan of an invented river. Put your own sites, fish, survival and detection in; then", "unseen plan " + argv.Quoted(file)}}}})
	}
	return err
}

// planOf is the plan that the file on the line is, or that its study makes.
func planOf(c *cli.Context) (*analysis.Planning, error) {
	opt, err := line.Options(c)
	if err != nil {
		return nil, err
	}
	path, err := line.StudyPath(c)
	if err != nil {
		return nil, err
	}
	text, err := study.ReadFile(path, study.LargestStudy)
	if err != nil {
		return nil, err
	}
	if !plan.IsPlan(text) {
		d, err := line.OpenPath(c, path, ingest.Options{})
		if err != nil {
			return nil, err
		}
		f, err := line.Fit(c, d, opt)
		if err != nil {
			return nil, err
		}
		if c.Bool("with-outages") {
			return f.PlanWithOutages()
		}
		return f.Plan()
	}
	if c.Bool("with-outages") {
		return nil, line.Errorf("--with-outages is about a study; in a plan file give working_share at the site")
	}
	p, err := analysis.OpenPlan(path)
	if err != nil {
		return nil, err
	}
	if !c.IsSet("level") {
		opt.Level = 0 // the plan's own
	}
	if err := p.Complete(opt); err != nil {
		return nil, err
	}
	return p, choosePlan(c, p)
}

// choosePlan takes the model that the line chooses for that of the plan.
func choosePlan(c *cli.Context, p *analysis.Planning) error {
	if err := line.CheckMovement(c, false); err != nil {
		return err
	}
	return p.Choose(line.Choice(c))
}

// savePlan writes the plan file of p.
func savePlan(c *cli.Context, file string, p *analysis.Planning) error {
	var text bytes.Buffer
	if err := studyfile.ForPlan(&text, p.Plan, filepath.Base(p.Path)); err != nil {
		return err
	}
	return atomicfile.Write(file, line.OutputRule(c, p.Source), func(w io.Writer) error {
		_, err := w.Write(text.Bytes())
		return err
	})
}

// drawPlan draws half-width against fish.
func drawPlan(c *cli.Context, file string, answers *analysis.Planned) error {
	f := figure.HalfWidths(answers)
	if f == nil {
		return fmt.Errorf("--figure: there is no half-width to draw: %s is not estimable with any option", answers.Target.Words(answers.Forecast.Plan))
	}
	return drawFigure(c, file, answers.Source, f)
}
