package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/studyfile"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

func simulateCommand() *cli.Command {
	return &cli.Command{
		Name:      "simulate",
		Usage:     "simulated studies with known truth: can the answer be trusted?",
		UsageText: "unseen simulate STUDY.toml|PLAN.toml --replicates NUMBER | --out DIR [flags]",
		Description: "Takes the estimates of a model, or a plan file, as the truth, simulates fish, and fits the\n" +
			"model to them: bias, standard errors, coverage of intervals (--replicates), or writes a\n" +
			"complete study (--out). --break shows what a broken assumption does:\n" + breakerHelp() +
			"\nExample:  unseen simulate study.toml --replicates 1000 --break tag-loss=0.05",
		Flags: append(append(append([]cli.Flag{
			line.CountFlag(2, line.ManyRuns, "; better 1000", cli.IntFlag{Name: "replicates", DefaultText: "none", Usage: "simulate and fit `NUMBER` times"}),
			&cli.StringFlag{Name: "out", Usage: "write a simulated study into `DIR`"},
			&cli.StringFlag{Name: "truth", Usage: "take the plan file `FILE` as the truth"},
			&cli.StringSliceFlag{Name: "break", Usage: "break an assumption: `NAME=X`"},
			&cli.StringSliceFlag{Name: "outage", Usage: "have a site or row out of service: `\"SITE FROM to TO\"`; repeatable"},
			&cli.BoolFlag{Name: "undeclared", Usage: "with --outage: the fits, or the study written, are not told"},
			line.SeedFlag("`SEED` of the random numbers"),
			&cli.StringFlag{Name: "figure", Usage: "draw the coverage of the intervals into `FILE`.svg, .png or .pdf"},
			&cli.Uint64Flag{Name: "index", Value: 1, Usage: "with --out: write replicate `NUMBER`"},
		}, line.ModelFlags()...), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("each cohort, where they are many")),
		Action: simulateAction,
	}
}

// breaker is a way to break an assumption.
type breaker struct {
	name, help string
	set        func(*simulate.Violations, []float64)
	values     int
}

var breakers = []breaker{
	{"detection-differs", "standard deviation between fish, on the logit scale", func(b *simulate.Violations, v []float64) { b.DetectionSD = v[0] }, 1},
	{"tag-loss", "share of tags lost in each reach", func(b *simulate.Violations, v []float64) { b.TagLoss = v[0] }, 1},
	{"handling-death", "share of fish that die where they are released", func(b *simulate.Violations, v []float64) { b.HandlingDeath = v[0] }, 1},
	{"rows-together", "share of passages that all rows of a site detect well or badly", func(b *simulate.Violations, v []float64) { b.RowsTogether = v[0] }, 1},
	{"ghosts", "share of dead fish whose tags drift on past the next site", func(b *simulate.Violations, v []float64) { b.Ghosts = v[0] }, 1},
	{"second-kind", "SHARE:SURVIVAL:DETECTION, a share of fish whose logits differ by so much", func(b *simulate.Violations, v []float64) {
		b.Second = simulate.Mixture{Share: v[0], Survival: v[1], Detection: v[2]}
	}, 3},
}

func breakerHelp() string {
	var s strings.Builder
	for _, b := range breakers {
		fmt.Fprintf(&s, "  %-18s %s\n", b.name, b.help)
	}
	return s.String()
}

// broken are the breakers of the line.
func broken(words []string) (simulate.Violations, error) {
	var out simulate.Violations
	var names []string
	for _, b := range breakers {
		names = append(names, b.name)
	}
words:
	for _, w := range words {
		name, text, _ := strings.Cut(w, "=")
		for _, b := range breakers {
			if b.name != name {
				continue
			}
			parts := strings.Split(text, ":")
			values := make([]float64, len(parts))
			for i, p := range parts {
				var err error
				if values[i], err = line.Finite.Parse("break", p); err != nil || len(parts) != b.values {
					return out, line.Errorf("--break %q: %s takes %s, such as %s=%s", w, name, b.help, name, strings.Join([]string{"0.2", "-1", "-0.5"}[:b.values], ":"))
				}
			}
			b.set(&out, values)
			continue words
		}
		return out, line.Errorf("--break %q: there is no %q; there are %s", w, name, strings.Join(names, ", "))
	}
	return out, nil
}

func simulateAction(c *cli.Context) error {
	n, dir := c.Int("replicates"), c.String("out")
	if !c.IsSet("replicates") && dir == "" {
		return line.Errorf("say what is wanted: --replicates NUMBER for a report, --out DIR for a study")
	}
	if err := figureName(c); err != nil {
		return err
	}
	if c.String("figure") != "" && n == 0 {
		return line.Errorf("--figure shows replicates: give --replicates NUMBER too")
	}
	breakers, err := broken(c.StringSlice("break"))
	if err != nil {
		return err
	}
	s, err := simulation(c)
	if err != nil {
		return err
	}
	s.Study.Seed, s.Study.Truth.Violations = c.Uint64("seed"), breakers
	if err := s.Study.Truth.Check(); err != nil {
		return line.Errorf("%w", err)
	}
	if dir != "" {
		if err := writeSimulated(c, s, dir); err != nil {
			return err
		}
		if n == 0 {
			return nil
		}
	}
	bar := progress.New(c.App.ErrWriter, "simulating", "replicates")
	s.Result, err = s.Study.Run(c.Context, 1, n, bar.Counter(n))
	bar.Done()
	if err != nil {
		return err
	}
	if file := c.String("figure"); file != "" {
		f := figure.Coverage(s)
		if f == nil {
			return fmt.Errorf("--figure: no replicate has an interval to draw")
		}
		if err := drawFigure(c, file, s.Source, f); err != nil {
			return err
		}
	}
	err = line.Show(c, s.Source, line.Answer{
		Page: view.SimulatePage(s), Brief: view.BriefSimulatePage(s),
		Doc: func(head wire.Head) any { return wire.NewSimulate(head, s) },
	})
	if err == nil && view.NothingFitted(s.Result) {
		return line.ErrNotUsable
	}
	return err
}

// simulation is what the line asks to simulate.
func simulation(c *cli.Context) (*analysis.Simulated, error) {
	opt, err := line.Options(c)
	if err != nil {
		return nil, err
	}
	path, err := line.StudyPath(c)
	if err != nil {
		return nil, err
	}
	if opt.EstimateInflation {
		return nil, line.Errorf("--variance-inflation auto would be another number in every replicate; give a number")
	}
	of := analysis.Simulating{Outages: c.StringSlice("outage"), Undeclared: c.Bool("undeclared")}
	if of.Undeclared && len(of.Outages) == 0 {
		return nil, line.Errorf("--undeclared is about --outage: name one")
	}
	text, err := study.ReadFile(path, study.LargestStudy)
	if err != nil {
		return nil, err
	}
	if plan.IsPlan(text) {
		if c.String("truth") != "" {
			return nil, line.Errorf("%s is a plan, and so the truth itself; leave out --truth", path)
		}
		p, err := analysis.OpenPlan(path)
		if err != nil {
			return nil, err
		}
		if err := choosePlan(c, p); err != nil {
			return nil, err
		}
		return p.Simulation(opt, of)
	}
	d, err := line.OpenPath(c, path, ingest.Options{})
	if err != nil {
		return nil, err
	}
	spec, err := line.Spec(c, d)
	if err != nil {
		return nil, err
	}
	if file := c.String("truth"); file != "" {
		p, err := analysis.OpenPlan(file)
		if err != nil {
			return nil, err
		}
		of.Truth, d.Inputs = p.Plan, append(d.Inputs, p.Inputs...)
	}
	return d.Simulation(c.Context, spec, opt, of)
}

// writeSimulated writes one replicate as a study.
func writeSimulated(c *cli.Context, s *analysis.Simulated, dir string) error {
	set, err := atomicfile.NewSet(dir, line.OutputRule(c, s.Source))
	if err != nil {
		return err
	}
	defer set.Discard()
	index := c.Uint64("index")
	if err := studyfile.Simulated(set, s.File, s.Study, index); err != nil {
		return err
	}
	if err := set.Commit(); err != nil {
		return err
	}
	fmt.Fprintf(c.App.ErrWriter, "The study is in %s, what is true of it in truth.json there. Fit it: unseen fit %s\n", harmless.Escape(dir), harmless.Escape(argv.Quoted(dir)))
	return nil
}
