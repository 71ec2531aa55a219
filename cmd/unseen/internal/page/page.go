// Package page writes a study's report: one HTML file that needs no network, no
// fonts and no script to be read, on a screen, a phone, on paper or aloud. It
// shows the tables that the text output shows.
package page

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Report is a page in reading order.
type Report struct {
	Title, Stamp string
	// Answer and Lead, which may be nil, stand on the first half page.
	Answer []string
	Lead   *figure.Figure
	// Heed names the warnings that bear on the answer, or is "".
	Heed  string
	Parts []Part
}

// Part is a part of the report with a place in its contents.
type Part struct {
	ID, Heading string
	Blocks      []Block
}

// Block is a section of text and tables, with figures before its tables.
type Block struct {
	view.Section
	Figures []*figure.Figure
}

// referencesHeading is of what others wrote.
const referencesHeading = "References"

// Spoken is the report as it speaks of the animals and occasions of its study; the
// methods' references are titles of others and stay.
func (r Report) Spoken(from analysis.Source) Report {
	say := speech.Of(from.StudyFile)
	if say == nil {
		return r
	}
	out := r
	out.Title, out.Stamp, out.Heed = say(r.Title), say(r.Stamp), say(r.Heed)
	out.Answer = nil
	for _, a := range r.Answer {
		out.Answer = append(out.Answer, say(a))
	}
	if r.Lead != nil {
		out.Lead = figure.Spoken([]*figure.Figure{r.Lead}, say)[0]
	}
	out.Parts = nil
	for _, p := range r.Parts {
		p.Heading = say(p.Heading)
		blocks := p.Blocks
		p.Blocks = nil
		for _, b := range blocks {
			if b.Heading != referencesHeading {
				b = Block{Section: b.Section.Map(say), Figures: figure.Spoken(b.Figures, say)}
			}
			p.Blocks = append(p.Blocks, b)
		}
		out.Parts = append(out.Parts, p)
	}
	return out
}

// kind is the warnings of one ID that follow each other: the first ones, and
// where they are many the rest.
type kind struct{ First, More []view.Warning }

// mostAlike is how many warnings of one kind are shown before the rest folds.
const mostAlike = 3

// Kinds are the block's warnings by kind.
func (b Block) Kinds() []kind {
	var out []kind
	for i, w := range b.Warnings {
		if i == 0 || b.Warnings[i-1].ID != w.ID {
			out = append(out, kind{})
		}
		k := &out[len(out)-1]
		k.First = append(k.First, w)
	}
	for i := range out {
		if k := &out[i]; len(k.First) > mostAlike {
			k.First, k.More = k.First[:1], k.First[1:]
		}
	}
	return out
}

// Tables are all tables of the report, each once, as a page to write CSV files
// from: those that a person is not shown too.
func (r *Report) Tables() view.Page {
	var s view.Section
	index := map[string]int{}
	add := func(t view.Table) {
		i, ok := index[t.ID]
		switch {
		case t.ID == "":
		case !ok:
			index[t.ID] = len(s.Tables)
			s.Tables = append(s.Tables, t)
		default:
			// Parts of a report repeat what they rest on, and have warnings each.
			for _, row := range t.Rows {
				if !slices.ContainsFunc(s.Tables[i].Rows, func(x []view.Cell) bool { return fmt.Sprint(x) == fmt.Sprint(row) }) {
					s.Tables[i].Rows = append(slices.Clip(s.Tables[i].Rows), row)
				}
			}
		}
	}
	for _, p := range r.Parts {
		for _, b := range p.Blocks {
			for _, t := range b.Tables {
				add(t)
			}
			for _, f := range b.Figures {
				add(f.Table)
			}
		}
	}
	return view.Page{Sections: []view.Section{s}}
}

var (
	//go:embed report.html
	source string
	//go:embed report.css
	rules string
	//go:embed report.js
	script string
)

// style is the style sheet, with the looks of figures on a dark page.
var style = rules + "@media screen and (prefers-color-scheme: dark) {\n" + canvas.DarkStyle() + "}\n"

// A report is printed too, and its tables are cut for paper; fragments of it are not.
var reportTemplate, fragmentTemplate = templates(paperWidth), templates(math.Inf(1))

// templates lay out tables no wider than width.
func templates(width float64) *template.Template {
	return template.Must(template.New("report").Funcs(template.FuncMap{
		"inline": inline, "whole": whole, "svg": svg, "breakable": breakable,
		"group": func(t view.Table, heading string) group { return newGroup(t, heading, width) },
		// None where tables beside the figure hold its numbers.
		"figureTables": func(f *figure.Figure) []*table { return newTables(f.Table, "The numbers of this figure", width) },
	}).Parse(source))
}

// Write writes the report.
func Write(w io.Writer, r Report) error {
	var b bytes.Buffer
	err := reportTemplate.Execute(&b, struct {
		Report
		Style                 template.CSS
		Script                template.JS
		StyleHash, ScriptHash string
	}{r, template.CSS(style), template.JS(script), hash(style), hash(script)})
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, harmless.Escape(b.String()))
	return err
}

// hash names what the page's own policy lets a reader run.
func hash(s string) string {
	sum := sha256.Sum256([]byte(s))
	return base64.StdEncoding.EncodeToString(sum[:])
}

// whole keeps the number behind a figure on one line.
func whole(s string) string { return strings.ReplaceAll(s, "n = ", "n\u00a0=\u00a0") }

// inline is running text: what stands between backticks is code, a new line
// breaks the line.
func inline(s string) template.HTML {
	var b strings.Builder
	for i, part := range strings.Split(s, "`") {
		text := strings.ReplaceAll(template.HTMLEscapeString(part), "\n", "<br>")
		text = strings.ReplaceAll(text, " %", "\u00a0%")
		if i%2 == 1 {
			text = "<code>" + text + "</code>"
		}
		b.WriteString(text)
	}
	return template.HTML(b.String())
}

// svg is a figure in both widths; the style shows one of them.
func svg(f *figure.Figure) (template.HTML, error) {
	var b bytes.Buffer
	for _, form := range []struct {
		class, suffix string
		width         float64
	}{{"wide", "", figure.Wide}, {"narrow", "-narrow", figure.Narrow}} {
		b.WriteString(`<div class="` + form.class + `">`)
		if err := f.SVG(&b, form.width, form.suffix); err != nil {
			return "", err
		}
		b.WriteString("</div>\n")
	}
	return template.HTML(b.String()), nil
}
