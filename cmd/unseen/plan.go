package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/session"
	"example.org/unseen/cmd/unseen/internal/studyfile"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

func planCommand() *cli.Command {
	return &cli.Command{
		Name:      "plan",
		Usage:     "before a season: what precision to expect, how many fish it takes",
		UsageText: "unseen plan STUDY.toml|PLAN.toml [flags]",
		Description: "Expects standard errors from a fitted study, as if its season were repeated, or from a plan\n" +
			"file with supposed survival and detection (docs/planning.md).\n\n" +
			"Example:  unseen plan plan.toml --want \"passed at Tidehead ± 5\" --options",
		Flags: append(append(append([]cli.Flag{
			&cli.StringSliceFlag{Name: "want", Usage: "fish a `WISH` takes: \"passed at SITE ± POINTS\""},
			&cli.BoolFlag{Name: "options", DisableDefaultText: true, Usage: "compare the plan's [[option]]s, or the usual ones"},
			&cli.StringSliceFlag{Name: "power", Usage: "the difference a `PAIR` of cohorts can show: \"early vs late\""},
			numberFlag(between(0, 1, "0.05"), cli.Float64Flag{Name: "alpha", Value: 0.05, Usage: "`RISK` of seeing what is not there"}),
			numberFlag(between(0, 1, "0.8"), cli.Float64Flag{Name: "chance", Value: 0.8, Usage: "`CHANCE` of seeing the difference"}),
			countFlag(1, manyFish, "", cli.IntFlag{Name: "fish", DefaultText: "as planned", Usage: "tag `NUMBER` fish in all"}),
			countFlag(10, manyRuns, "; better 1000", cli.IntFlag{Name: "verify", DefaultText: "none", Usage: "simulate the plan `NUMBER` times"}),
			&cli.StringFlag{Name: "figure", Usage: "draw half-width against fish into `FILE`.svg, .png or .pdf"},
			&cli.StringFlag{Name: "save", Usage: "write the plan file to `FILE`, to be changed by hand"},
			&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`SEED` of the simulation"},
		}, modelFlags()...), outputFlags()...), asOfFlag()),
		Action: planAction,
	}
}

func planAction(c *cli.Context) error {
	q := session.Questions{Want: c.StringSlice("want"), Power: c.StringSlice("power"), Alpha: c.Float64("alpha"), Chance: c.Float64("chance"),
		Options: c.Bool("options"), Fish: c.Int("fish"), Verify: c.Int("verify"), Seed: c.Uint64("seed")}
	if file := c.String("figure"); file != "" {
		if ext := filepath.Ext(file); ext != ".svg" && ext != ".png" && ext != ".pdf" {
			return callError("--figure %s: a figure is a file in .svg, .png or .pdf", file)
		}
		q.Options = true // the figure is of them
	}
	d, p, options, err := planOf(c, &q)
	if err != nil {
		return err
	}
	if file := c.String("save"); file != "" {
		if err := savePlan(c, file, d, p); err != nil {
			return err
		}
	}
	bar := progress.New(c.App.ErrWriter, "simulating", "replicates")
	defer bar.Done()
	var mu sync.Mutex
	var done int64
	q.Done = func() {
		mu.Lock()
		defer mu.Unlock()
		done++
		bar.Update(done, int64(q.Verify), done)
	}
	answers, err := d.Plan(c.Context, p, options, q)
	var unclear session.Unclear
	switch {
	case errors.As(err, &unclear):
		return callError("%w", err)
	case err != nil:
		return err
	}
	if file := c.String("figure"); file != "" {
		if err := drawPlan(c, file, d, answers); err != nil {
			return err
		}
	}
	return show(c, d, answer{
		page: view.PlanPage(answers),
		doc:  func() any { return wire.NewPlan(wire.NewHead("plan", version(), d), answers) },
	})
}

// planOf is the plan that the file on the line is, or that its study makes.
func planOf(c *cli.Context, q *session.Questions) (*session.Data, *plan.Plan, []plan.Option, error) {
	opt, err := fitOptions(c)
	if err != nil {
		return nil, nil, nil, err
	}
	path, err := studyPath(c)
	if err != nil {
		return nil, nil, nil, err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, nil, err
	}
	if !study.IsPlan(text) {
		d, err := openPath(c, path, ingest.Options{})
		if err != nil {
			return nil, nil, nil, err
		}
		f, err := fit(c, d, opt)
		if err != nil {
			return nil, nil, nil, err
		}
		if f.Fit.Verdict != cjs.Converged {
			return nil, nil, nil, fmt.Errorf("the fit of %s did not converge, so there is nothing to plan from; see unseen fit", path)
		}
		p, err := plan.FromFit(f.Fit)
		if err != nil {
			return nil, nil, nil, err
		}
		p.Title = d.Study.Title
		return d, p, nil, nil
	}
	d, file, err := session.OpenPlan(path)
	if err != nil {
		return nil, nil, nil, err
	}
	p, err := plan.FromFile(file)
	if err != nil {
		return nil, nil, nil, err
	}
	if c.IsSet("level") {
		p.Level = opt.Level
	}
	if opt.EstimateInflation {
		return nil, nil, nil, callError("--variance-inflation auto needs a study; give a number for a plan")
	}
	p.VarianceInflation = opt.VarianceInflation
	if p.Spec, err = chosen(c, d); err != nil {
		return nil, nil, nil, err
	}
	if len(q.Want) == 0 && file.Want != "" {
		if _, err := p.ParseWant(file.Want); err != nil {
			return nil, nil, nil, history.Fault{Pos: file.WantPos, Message: "want: " + err.Error()}
		}
		q.Want = []string{file.Want}
	}
	return d, p, file.Options, nil
}

// savePlan writes the plan file of p.
func savePlan(c *cli.Context, file string, d *session.Data, p *plan.Plan) error {
	var text bytes.Buffer
	if err := studyfile.ForPlan(&text, p, filepath.Base(d.Study.Path)); err != nil {
		return err
	}
	return atomicfile.Write(file, outputRule(c, d), func(w io.Writer) error {
		_, err := w.Write(text.Bytes())
		return err
	})
}

// drawPlan draws half-width against fish.
func drawPlan(c *cli.Context, file string, d *session.Data, answers *session.Planned) error {
	f := figure.HalfWidths(answers)
	if f == nil {
		return fmt.Errorf("--figure: there is no half-width to draw: %s cannot be had with any option", answers.Target.Words(answers.Forecast.Plan))
	}
	return atomicfile.Write(file, outputRule(c, d), func(w io.Writer) error {
		return writeFigure(w, f, strings.TrimPrefix(filepath.Ext(file), "."))
	})
}
