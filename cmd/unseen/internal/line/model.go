package line

import (
	"slices"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// FullFlag has more shown than one screen holds.
func FullFlag(more string) cli.Flag {
	return &cli.BoolFlag{Name: "full", DisableDefaultText: true, Usage: "show all: " + more + "; JSON and CSV always have all"}
}

// ModelFlags choose a model and how its intervals are made.
func ModelFlags() []cli.Flag { return append(ChoiceFlags(), intervalFlags()...) }

// ChoiceFlags choose a model.
func ChoiceFlags() []cli.Flag {
	flags := []cli.Flag{&cli.StringFlag{Name: "model", Usage: "fit the study's [[model]] called `NAME`"}}
	for _, p := range study.Parts {
		flags = append(flags, &cli.StringFlag{Name: p.Key, Usage: "`TERMS` of " + p.About + ": " + p.Takes})
	}
	return append(flags, linkFlags()...)
}

// OptionFlags are how any model is fitted and its intervals are made.
func OptionFlags() []cli.Flag { return append(linkFlags(), intervalFlags()...) }

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
	return []cli.Flag{LevelFlag(),
		&cli.StringFlag{Name: "interval", Value: "auto", DefaultText: "auto", Usage: "`METHOD` logit, profile; fit: bootstrap"},
		&cli.StringFlag{Name: "variance-inflation", Value: "1", DefaultText: "1", Usage: "multiply variances by `NUMBER`, or auto"}}
}

// SetLinks gives spec the links on the line.
func SetLinks(c *cli.Context, spec *model.Spec) {
	for _, p := range study.Parts {
		if p.Links != nil {
			spec.SetLink(model.Part(p.Key), c.String(p.LinkFlag()))
		}
	}
}

// OpenAndFit reads the study on the line and fits the model chosen there.
func OpenAndFit(c *cli.Context) (*analysis.Data, *analysis.Fitted, error) {
	opt, err := Options(c)
	if err != nil {
		return nil, nil, err
	}
	d, err := Open(c, ingest.Options{})
	if err != nil {
		return nil, nil, err
	}
	f, err := Fit(c, d, opt)
	return d, f, err
}

// Options are how the line wants a model fitted.
func Options(c *cli.Context) (analysis.Options, error) {
	opt := analysis.Options{Options: cjs.Options{Level: c.Float64("level"), Interval: c.String("interval")}}
	if opt.Interval == "bootstrap" && c.Command.Name == "fit" {
		opt.Interval = "auto" // until there are replicates
	}
	if !slices.Contains([]string{"auto", "logit", "profile"}, opt.Interval) {
		return opt, Errorf("--interval is %q; it is auto, logit or profile", opt.Interval)
	}
	inflation := c.String("variance-inflation")
	if inflation == "auto" {
		opt.EstimateInflation = true
		return opt, nil
	}
	var err error
	opt.VarianceInflation, err = inflations.Parse("variance-inflation", inflation)
	return opt, err
}

// CheckMovement refuses terms of movement where there is no as_of.
func CheckMovement(c *cli.Context, running bool) error {
	for _, p := range study.Parts {
		if p.Running && c.IsSet(p.Key) && !running && c.Command.Name != "season" {
			return Errorf("--%s belongs to a season that still runs; give --as-of, or as_of in the study", p.Key)
		}
	}
	return nil
}

// Choice is the model that the line asks for.
func Choice(c *cli.Context) analysis.Choice {
	asked := analysis.Choice{Name: c.String("model")}
	for _, p := range study.Parts {
		asked.SetTerms(model.Part(p.Key), c.String(p.Key))
	}
	SetLinks(c, &asked)
	return asked
}

// Spec is the model of the study that the line chooses.
func Spec(c *cli.Context, d *analysis.Data) (model.Spec, error) {
	if err := CheckMovement(c, d.Timed()); err != nil {
		return model.Spec{}, err
	}
	return d.Spec(Choice(c))
}

// Fit fits the model that the line chooses.
func Fit(c *cli.Context, d *analysis.Data, opt analysis.Options) (*analysis.Fitted, error) {
	spec, err := Spec(c, d)
	if err != nil {
		return nil, err
	}
	return d.Fit(c.Context, spec, opt)
}

// Usable is an error where the numbers of f are not to be used.
func Usable(f *analysis.Fitted) error {
	if f.Fit.Verdict != cjs.Converged || f.Opinion != nil && f.Opinion.Better() {
		return ErrNotUsable
	}
	return nil
}
