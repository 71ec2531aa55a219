package main

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
)

func newCommand() *cli.Command {
	return &cli.Command{
		Name:      "new",
		Usage:     "write a study file from your own tables",
		UsageText: "unseen new FOLDER|FILES… [flags]",
		Description: "Looks at tables, tells by what is in them which holds the fish and which the sightings, and\n" +
			"writes a commented study file. What it is not sure of stands there for you to confirm.\n\n" +
			"Example:  unseen new season2025",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "write the study file to `FILE`; without, to study.toml in the folder"},
			forceFlag(),
		},
		Action: newAction,
	}
}

func newAction(c *cli.Context) error {
	paths := c.Args().Slice()
	if len(paths) == 0 {
		return callError("new needs a folder or files: unseen new FOLDER")
	}
	for _, p := range paths {
		if _, err := os.Stat(p); errors.Is(err, fs.ErrNotExist) {
			return callError("there is no file or folder %s", p)
		}
	}
	out := c.String("output")
	if out == "" {
		out = "study.toml"
		if info, err := os.Stat(paths[0]); len(paths) == 1 && err == nil && info.IsDir() {
			out = filepath.Join(paths[0], out)
		}
	}
	p, err := propose.Study(c.Context, paths, filepath.Dir(out))
	if err != nil {
		return err
	}
	rule := outputRule(c, analysis.Source{})
	rule.Reads = readsAs(&study.Study{Sightings: &study.SightingFiles{Files: paths, Written: paths}})
	err = atomicfile.Write(out, rule, func(w io.Writer) error {
		_, err := io.WriteString(w, p.Study)
		return err
	})
	if err != nil {
		return err
	}
	return text.Write(c.App.Writer, view.NewPage(out, p))
}
