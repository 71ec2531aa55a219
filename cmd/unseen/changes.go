package main

import (
	"errors"
	"io/fs"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/changes"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
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
		Flags:  append(append(modelFlags(), outputFlags()...), asOfFlag(), fullFlag("each group of fish, survival, detection, every other number that moved")),
		Action: changesAction,
	}
}

func changesAction(c *cli.Context) error {
	opt, err := fitOptions(c)
	if err != nil {
		return err
	}
	if c.NArg() != 2 {
		return callError("changes needs an earlier result and a study file: unseen changes OLD.json STUDY.toml")
	}
	old, path := c.Args().Get(0), c.Args().Get(1)
	if strings.HasSuffix(old, ".toml") && strings.HasSuffix(path, ".json") {
		return callError("the earlier result comes first: unseen changes %s %s", path, old)
	}
	before, err := earlier(old)
	if err != nil {
		return err
	}
	if path, err = existingStudy(path); err != nil {
		return err
	}
	d, err := openPath(c, path, ingest.Options{})
	if err != nil {
		return err
	}
	f, err := fit(c, d, opt)
	if err != nil {
		return err
	}
	r := since(old, before, f)
	err = show(c, d.Source(), answer{
		page: r.Page(d.Source().Name(), view.Stamp(d)), brief: r.Brief(d.Source().Name(), view.Stamp(d)),
		doc: func(wire.Head) any { return r },
	})
	if err == nil && f.Fit.Verdict != cjs.Converged {
		return errNotUsable
	}
	return err
}

// earlier reads the result of an earlier fit.
func earlier(path string) (*wire.Fit, error) {
	before, err := changes.Read(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, callError("there is no file %s; an earlier result is what `unseen fit STUDY.toml --json` wrote", path)
	}
	return before, err
}

// since sets a fit beside an earlier result read from the file old.
func since(old string, before *wire.Fit, f *analysis.Fitted) *changes.Result {
	now := wire.NewFit(wire.NewHead("fit", version(), f.Source()), f)
	return changes.Between(wire.NewHead("changes", version(), f.Source()), filepath.Base(old), before, &now)
}
