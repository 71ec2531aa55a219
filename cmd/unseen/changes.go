package main

import (
	"errors"
	"io/fs"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/changes"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
)

func changesCommand() *cli.Command {
	return &cli.Command{
		Name:      "changes",
		Usage:     "what moved since an earlier result",
		UsageText: "unseen changes OLD.json STUDY.toml [flags]",
		Description: "Fits the study as `unseen fit` does and sets it beside an earlier result, written by\n" +
			"unseen fit --json: files, fish, records by rule, model, estimates. Revised data move\n" +
			"published numbers.\n\n" +
			"Example:  unseen changes fit-may.json study.toml",
		Flags:  append(append(line.ModelFlags(), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("each group of fish, survival, detection, every other number that moved")),
		Action: changesAction,
	}
}

func changesAction(c *cli.Context) error {
	opt, err := line.Options(c)
	if err != nil {
		return err
	}
	if c.NArg() != 2 {
		return line.Errorf("changes needs an earlier result and a study file: unseen changes OLD.json STUDY.toml")
	}
	old, path := c.Args().Get(0), c.Args().Get(1)
	if info, err := os.Stat(old); strings.HasSuffix(path, ".json") && (strings.HasSuffix(old, ".toml") || err == nil && info.IsDir()) {
		return line.Errorf("the earlier result comes first: unseen changes %s %s", path, old)
	}
	before, sum, err := earlier(old)
	if err != nil {
		return err
	}
	if path, err = line.StudyFile(path); err != nil {
		return err
	}
	d, err := line.OpenPath(c, path, ingest.Options{})
	if err != nil {
		return err
	}
	f, err := line.Fit(c, d, opt)
	if err != nil {
		return err
	}
	r := since(sum, before, f)
	err = line.Show(c, d.Source(), line.Answer{
		Page: r.Page(d.Source().Name(), view.Stamp(d)), Brief: r.Brief(d.Source().Name(), view.Stamp(d)),
		Doc: func(wire.Head) any { return r },
	})
	if err != nil {
		return err
	}
	return line.Usable(f)
}

// earlier reads the result of an earlier fit.
func earlier(path string) (*wire.Fit, history.Input, error) {
	before, from, err := changes.Read(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, from, line.Errorf("there is no file %s; an earlier result is what `unseen fit STUDY.toml --json` wrote", path)
	}
	return before, from, err
}

// since sets a fit beside an earlier result, which is an input of the answer from
// then on.
func since(old history.Input, before *wire.Fit, f *analysis.Fitted) *changes.Result {
	now := wire.NewFit(wire.NewHead("fit", line.Version(), f.Source()), f)
	f.Data.Inputs = append(f.Data.Inputs, old)
	return changes.Between(wire.NewHead("changes", line.Version(), f.Source()), old.File, before, &now)
}
