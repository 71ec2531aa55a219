package main

import (
	"fmt"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/demo"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/history/ingest"
)

func demoCommand() *cli.Command {
	return &cli.Command{
		Name:      "demo",
		Usage:     "fit a made-up study, and write its files to try things on",
		UsageText: "unseen demo [DIR] [flags]",
		Description: "Fits 1,800 sea trout smolts of an invented river. With DIR the study is written there:\n" +
			"study.toml, fish.csv, two array files, and truth.json with what is true of them.\n\n" +
			"Example:  unseen demo hollin && unseen fit hollin/study.toml",
		Flags:  append(append(line.ModelFlags(), line.OutputFlags()...), line.AsOfFlag(), line.FullFlag("survival, detection, effects, cautions")),
		Action: demoAction,
	}
}

func demoAction(c *cli.Context) error {
	opt, err := line.Options(c)
	if err != nil {
		return err
	}
	if c.NArg() > 1 {
		return line.Errorf("demo takes one folder, not %d: %q", c.NArg(), c.Args().Slice())
	}
	dir := c.Args().First()
	if dir == "" {
		var remove func()
		if dir, remove, err = atomicfile.MkdirTemp(); err != nil {
			return err
		}
		defer remove()
	}
	if err := demo.Write(dir, line.OutputRule(c, analysis.Source{})); err != nil {
		return err
	}
	path := filepath.Join(dir, demo.Study)
	d, err := line.OpenPath(c, path, ingest.Options{})
	if err != nil {
		return err
	}
	err = fitAndShow(c, d, opt)
	if c.NArg() == 1 {
		fmt.Fprintf(c.App.ErrWriter, "\nThe study is in %s; edit it and fit it again: unseen fit %s\n", harmless.Escape(dir), harmless.Escape(argv.Quoted(path)))
	}
	return err
}
