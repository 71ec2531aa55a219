package main

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// formats of figures, in the order in which files are written.
var formats = []string{"svg", "png", "pdf"}

func figuresCommand() *cli.Command {
	return &cli.Command{
		Name:      "figures",
		Usage:     "the figures of the report as SVG, PNG and PDF files",
		UsageText: "unseen figures STUDY.toml -o DIR [flags]",
		Description: "Writes each figure of the report into a folder, and captions.txt with the title, the caption\n" +
			"and a description of each for screen readers.\n\n" +
			"Example:  unseen figures study.toml -o figures --format svg,pdf",
		Flags: append(append([]cli.Flag{
			&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "write into the folder `DIR`"},
			&cli.StringFlag{Name: "format", DefaultText: "all three", Usage: "`FORMATS` svg, png, pdf, joined by commas"},
			&cli.StringFlag{Name: "only", Usage: "the figures called `NAMES`, joined by commas"},
			replayFlag(), line.JSONFlag(), line.ForceFlag(),
		}, line.ModelFlags()...), line.AsOfFlag()),
		Action: figuresAction,
	}
}

func figuresAction(c *cli.Context) error {
	dir := c.String("output")
	if dir == "" {
		return line.Errorf("figures needs a folder to write into: unseen figures STUDY.toml -o DIR")
	}
	wanted := list(c.String("format"))
	if len(wanted) == 0 {
		wanted = formats
	}
	for _, f := range wanted {
		if !slices.Contains(formats, f) {
			return line.Errorf("--format is %q; it is svg, png or pdf", f)
		}
	}
	content, err := reportContent(c)
	if err != nil {
		return err
	}
	figures := figure.Spoken(content.Figures(), speech.Of(content.Source().StudyFile))
	if figures, err = chosenFigures(figures, list(c.String("only"))); err != nil {
		return err
	}
	set, err := atomicfile.NewSet(dir, line.OutputRule(c, content.Source()))
	if err != nil {
		return err
	}
	defer set.Discard()
	t := view.Table{Columns: []view.Column{{Title: "figure", Key: true}, {Title: "shows"}, {Title: "files"}}}
	doc := wire.Figures{Folder: dir, Figures: []wire.Figure{}}
	var captions strings.Builder
	for _, f := range figures {
		var names []string
		for _, format := range formats {
			if !slices.Contains(wanted, format) {
				continue
			}
			w, err := set.Create(f.ID + "." + format)
			if err != nil {
				return err
			}
			if err := writeFigure(w, f, format); err != nil {
				return fmt.Errorf("%s.%s: %w", f.ID, format, err)
			}
			names = append(names, f.ID+"."+format)
		}
		fmt.Fprintf(&captions, "%s\n%s. %s\n%s\n%s\n\n", f.ID, f.Title, f.Caption, f.Source, f.Description)
		doc.Figures = append(doc.Figures, wire.Figure{ID: f.ID, Title: f.Title, Caption: f.Caption, Description: f.Description, Files: names})
		t.Rows = append(t.Rows, []view.Cell{view.T(f.ID), view.T(f.Title), view.T(strings.Join(names, " "))})
		if err := c.Context.Err(); err != nil {
			return err
		}
	}
	w, err := set.Create("captions.txt")
	if err != nil {
		return err
	}
	if _, err := io.WriteString(w, harmless.Escape(captions.String())); err != nil {
		return err
	}
	if err := set.Commit(); err != nil {
		return err
	}
	if c.Bool("json") {
		doc.Head = wire.NewHead("figures", line.Version(), content.Source())
		err = wire.Write(c.App.Writer, doc)
	} else {
		notes := []string{"Written into " + dir + ", with captions.txt."}
		if slices.ContainsFunc(figures, func(f *figure.Figure) bool { return strings.Contains(f.Caption, view.SingleFish) }) {
			notes = append(notes, view.SingleFish)
		}
		err = text.Write(c.App.Writer, view.Page{Title: content.Source().Name(), Stamp: view.Stamp(content.Data),
			Sections: []view.Section{{Tables: []view.Table{t}, Notes: notes}}}.Spoken(content.Source()))
	}
	if err != nil {
		return err
	}
	return line.Usable(content.Fitted)
}

func writeFigure(w io.Writer, f *figure.Figure, format string) error {
	switch format {
	case "svg":
		return f.SVG(w, figure.Wide, "")
	case "png":
		return f.PNG(w)
	default:
		return f.PDF(w)
	}
}

// figureName refuses a --figure of another format.
func figureName(c *cli.Context) error {
	file := c.String("figure")
	if file != "" && !slices.Contains(formats, strings.TrimPrefix(filepath.Ext(file), ".")) {
		return line.Errorf("--figure %s: a figure is a file in .svg, .png or .pdf", file)
	}
	return nil
}

// drawFigure writes one figure in the format that the file's name says.
func drawFigure(c *cli.Context, file string, from analysis.Source, f *figure.Figure) error {
	return atomicfile.Write(file, line.OutputRule(c, from), func(w io.Writer) error {
		return writeFigure(w, f, strings.TrimPrefix(filepath.Ext(file), "."))
	})
}

// list takes apart words joined by commas.
func list(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' })
}

// chosenFigures are those of the given names, or all.
func chosenFigures(figures []*figure.Figure, names []string) ([]*figure.Figure, error) {
	if len(names) == 0 {
		return figures, nil
	}
	var have []string
	for _, f := range figures {
		have = append(have, f.ID)
	}
	for _, n := range names {
		if !slices.Contains(have, n) {
			return nil, line.Errorf("--only %q: there is no such figure of this study; there are %s", n, strings.Join(have, ", "))
		}
	}
	return slices.DeleteFunc(figures, func(f *figure.Figure) bool { return !slices.Contains(names, f.ID) }), nil
}
