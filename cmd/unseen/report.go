package main

import (
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/ingest"
)

func reportCommand() *cli.Command {
	return &cli.Command{
		Name:      "report",
		Usage:     "one HTML page with the answer, figures, tables, checks and methods",
		UsageText: "unseen report STUDY.toml -o report.html [flags]",
		Description: "Writes one self-contained file that needs no network: for a manager the first half page, for\n" +
			"a colleague the figures, for a reviewer every number and how to reproduce it.\n\n" +
			"Example:  unseen report study.toml -o report.html",
		Flags: append(append([]cli.Flag{
			&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "write the page to `FILE`; without it, to standard output"},
			&cli.StringFlag{Name: "since", Usage: "show what moved since `OLD.json`, of unseen fit --json"},
			replayFlag(),
		}, append(line.TableFlags(), line.ModelFlags()...)...), line.AsOfFlag()),
		Action: reportAction,
	}
}

// replayFlag adds the replay of the season, which takes a fit or three for each
// of its days.
func replayFlag() cli.Flag {
	return line.CountFlag(1, line.ManyDays, "", cli.IntFlag{Name: "replay", DefaultText: "none", Usage: "show the estimate at the end of every `N`-th day"})
}

func reportAction(c *cli.Context) error {
	if c.String("output") == "" && c.NArg() == 1 && text.OnTerminal(c.App.Writer) {
		return line.Errorf("report writes a page for a browser; say into which file: unseen report %s -o report.html", argv.Quoted(c.Args().First()))
	}
	content, err := reportContent(c)
	if err != nil {
		return err
	}
	d := content.Data
	if old := c.String("since"); old != "" {
		before, from, err := earlier(old)
		if err != nil {
			return err
		}
		moved := since(from, before, content.Fitted).Page("", "")
		content.Changes = &moved
	}
	report := page.Assemble(content)
	to, err := line.BeginTables(c)
	if err != nil {
		return err
	}
	if err := to.Commit(c, d.Source(), report.Tables(), nil); err != nil {
		return err
	}
	if path := c.String("output"); path == "" || path == "-" {
		err = page.Write(c.App.Writer, report.Spoken(d.Source()))
	} else {
		err = atomicfile.Write(path, line.OutputRule(c, d.Source()), func(w io.Writer) error { return page.Write(w, report.Spoken(d.Source())) })
	}
	if err != nil {
		return err
	}
	if err := sayWritten(c, c.String("output")); err != nil {
		return err
	}
	return line.Usable(content.Fitted)
}

// sayWritten says where the page is, unless it is where this would stand.
func sayWritten(c *cli.Context, path string) error {
	if info, err := os.Stat(path); path == "" || err != nil || !info.Mode().IsRegular() {
		return nil
	}
	return text.Write(c.App.Writer, view.Page{Sections: []view.Section{{Paragraphs: []string{"Report written: " + path + ". Open it in a browser."}}}})
}

// reportContent reads and fits all that a report, or its figures, show.
func reportContent(c *cli.Context) (*page.Content, error) {
	opt, err := line.Options(c)
	if err != nil {
		return nil, err
	}
	d, err := line.Open(c, ingest.Options{})
	if err != nil {
		return nil, err
	}
	f, err := line.Fit(c, d, opt)
	if err != nil {
		return nil, err
	}
	bar := progress.New(c.App.ErrWriter, "fitting", "models")
	out, err := page.Gather(c.Context, f, opt, bar.Step)
	bar.Done()
	if err != nil {
		return nil, err
	}
	out.Version, out.Command = line.Version(), commandAgain(c, d.Study.Path)
	if n := c.Int("replay"); n > 0 {
		spec, err := line.Spec(c, d)
		if err != nil {
			return nil, err
		}
		bar := progress.New(c.App.ErrWriter, "replaying", "days")
		out.Season, err = d.Season(c.Context, spec, opt, d.ReplayDays(n), bar.Step)
		bar.Done()
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// commandAgain is the command that gives the same page: what was asked, without
// the folders of one machine.
func commandAgain(c *cli.Context, study string) string {
	parts := []string{"unseen", c.Command.Name, argv.Quoted(filepath.Base(study))}
	for _, f := range c.Command.Flags {
		name := f.Names()[0]
		if !c.IsSet(name) || slices.Contains([]string{"csv", "decimal-comma", "xlsx", "output", "force"}, name) {
			continue
		}
		value := c.String(name)
		switch f.(type) {
		case *cli.Float64Flag:
			value = strconv.FormatFloat(c.Float64(name), 'g', -1, 64)
		case *cli.IntFlag:
			value = strconv.Itoa(c.Int(name))
		}
		if name == "since" {
			value = filepath.Base(value)
		}
		parts = append(parts, "--"+name, argv.Quoted(value))
	}
	return strings.Join(append(parts, "-o", c.Command.Name+".html"), " ")
}
