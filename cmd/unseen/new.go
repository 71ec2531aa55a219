package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/findings"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
)

func newCommand() *cli.Command {
	return &cli.Command{
		Name:      "new",
		Usage:     "write a study file from your own tables",
		UsageText: "unseen new FOLDER|FILES… [flags]",
		Description: "Looks at tables, tells by what is in them which holds the fish and which the sightings, and\n" +
			"writes a commented study file. What it is not sure of stands there for you to confirm. The\n" +
			"proposal is then read as unseen check does, and the first records are shown as understood.\n\n" +
			"Files may differ in layout, language and encoding; have lines above their header, none, or\n" +
			"fixed widths; be sheets of a workbook, or the days of a reader in folders. Where the records of\n" +
			"a file do not name their site, a line above the header, the sheet, the file or its folder does.\n" +
			"A file that is not read is named with the reason.\n\n" +
			"With --show nothing is written: ten records of one file are shown as the proposal, or the\n" +
			"study file named in place of the folder, understands them.\n\n" +
			"Example:  unseen new season2025",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "write the study file to `FILE`; without, to study.toml in the folder"},
			&cli.StringFlag{Name: "show", Usage: "write nothing; show the first records of `FILE` as understood"},
			line.JSONFlag(), line.ForceFlag(),
		},
		Action: newAction,
	}
}

// shownFirst and shownAlone are how many records of a file are shown.
const shownFirst, shownAlone = 3, 10

func newAction(c *cli.Context) error {
	paths, show := c.Args().Slice(), c.String("show")
	if len(paths) == 0 && show != "" {
		paths = []string{"."}
	}
	paths = line.WithPatterns(paths)
	if len(paths) == 0 {
		return line.Errorf("new needs a folder or files: unseen new FOLDER")
	}
	for _, p := range paths {
		if _, err := os.Stat(p); line.Missing(p, err) {
			return line.Errorf("there is no file or folder %s", p)
		}
	}
	if show != "" && c.Bool("json") {
		return line.Errorf("--show is for people and has no --json; unseen new --json tells what a proposal makes of the tables")
	}
	if show != "" && strings.HasSuffix(paths[0], ".toml") {
		st, err := study.Load(paths[0])
		if err != nil {
			return err
		}
		return showFile(c, st, show)
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
	if show != "" {
		st, err := study.Parse(out, []byte(p.Study))
		if err != nil {
			return err
		}
		return showFile(c, st, show)
	}
	d, fault := tryOut(c.Context, out, p)
	if c.Context.Err() != nil {
		return c.Context.Err()
	}
	if d != nil && d.Accounting.Kept+d.Accounting.Repeats == 0 {
		p.NoSightings(d.Accounting.Read)
	}
	if day, runs := seasonRuns(d); runs {
		p.OfferAsOf(day)
	}
	rule := line.OutputRule(c, analysis.Source{})
	rule.Reads = line.ReadsAs(&study.Study{Sightings: []*study.SightingFiles{{Title: "[sightings]", Files: paths, Written: paths}}})
	err = atomicfile.Write(out, rule, func(w io.Writer) error {
		_, err := io.WriteString(w, p.Study)
		return err
	})
	if err != nil {
		return err
	}
	if c.Bool("json") {
		from := analysis.Source{Path: out}
		if fault == nil {
			from = d.Source()
		}
		return wire.Write(c.App.Writer, wire.NewNew(wire.NewHead("new", line.Version(), from), out, p, d, fault))
	}
	return text.Write(c.App.Writer, view.NewPage(out, p, d, fault))
}

// tryOut reads the tables by a proposal, or says why they cannot be.
func tryOut(ctx context.Context, path string, p *propose.Proposal) (*analysis.Data, error) {
	st, err := study.Parse(path, []byte(p.Study))
	if err != nil {
		return nil, err
	}
	return analysis.Read(ctx, st, ingest.Options{First: shownFirst})
}

// seasonRuns tells whether the season seems to run still, and the day of the last
// record.
func seasonRuns(d *analysis.Data) (day string, runs bool) {
	if d == nil || !slices.ContainsFunc(d.Findings, func(f history.Finding) bool { return f.ID == findings.SeasonRuns }) {
		return "", false
	}
	return d.LastRecord().Format(time.DateOnly), true
}

// showFile shows the first records of one file as a study understands them.
func showFile(c *cli.Context, st *study.Study, file string) error {
	d, err := analysis.Read(c.Context, st, ingest.Options{First: shownAlone})
	if err != nil {
		return err
	}
	page := view.FirstPage(d, shownAlone, func(name string) bool {
		return filepath.Clean(file) == filepath.Join(filepath.Dir(st.Path), filepath.FromSlash(name)) || file == name
	})
	if len(page.Sections) == 0 {
		var names []string
		for _, in := range d.Inputs[1:] { // without the study itself
			names = append(names, in.File)
		}
		return fmt.Errorf("%s is no table of the study; its tables are %s", file, strings.Join(names, ", "))
	}
	return text.Write(c.App.Writer, page)
}
