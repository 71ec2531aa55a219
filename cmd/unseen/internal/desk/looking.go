package desk

import (
	"bytes"
	"context"
	_ "embed"
	"html/template"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
)

// looking is one request for a view: the study as it stands, and where the
// reader is.
type looking struct {
	*Desk
	*snapshot
	ctx context.Context
	at  at
	// draft is of a folder without a study, where its tables are looked at.
	draft *draft
}

// draft is a study that is not written yet: what the tables of the folder
// propose, and what was said of them on the page since.
type draft struct {
	*propose.Proposal
	Study *study.Study
	Data  *analysis.Data
	// Text is that of the study file as it would be written, Err why there is
	// none, or why the tables cannot be read by it.
	Text string
	Err  error
	// Right are the tables that were confirmed; Dropped is what was said and
	// fits the tables no more.
	Right   map[string]bool
	Dropped []string
}

// fitted is the fit of the model that the address asks for.
func (l *looking) fitted() (*analysis.Fitted, error) {
	spec, err := l.Data.Spec(l.at.choice())
	if err != nil {
		return nil, err
	}
	return l.fit(l.ctx, l.Desk.ctx, spec)
}

var templates = template.Must(template.New("desk").Funcs(template.FuncMap{
	"inline": page.Inline,
	"count":  func(n any) string { return view.Digits(number(n), 0) },
	"percent": func(x float64) string {
		if math.IsNaN(x) {
			return "–"
		}
		return view.Digits(100*x, 1) + "\u00a0%"
	},
	"choice":   choiceWords,
	"plural":   func(n int, one string, many ...string) string { return view.Plural(n, one, many...) },
	"sentence": view.Sentence,
}).Parse(source))

func render(name string, data any) (template.HTML, error) {
	var b bytes.Buffer
	err := templates.ExecuteTemplate(&b, name, data)
	return template.HTML(harmless.Escape(b.String())), err
}

// choiceWords is a choice of a field as it is shown.
func choiceWords(field, choice string) string {
	switch {
	case choice == "\t":
		return "tabs"
	case choice == "" && strings.HasPrefix(field, "column-"):
		return "none"
	case choice == "":
		return "as the file tells"
	}
	return choice
}

func number(n any) float64 {
	switch x := n.(type) {
	case int:
		return float64(x)
	case int64:
		return float64(x)
	case float64:
		return x
	}
	return math.NaN()
}

// command is the command line that gives the same as a view.
func (l *looking) command(name string, more ...string) string {
	words := []string{"unseen", name, argv.Quoted(base(l.Name))}
	for _, k := range modelKeys() {
		if v := l.at.Get(k); v != "" {
			words = append(words, "--"+k, argv.Quoted(v))
		}
	}
	return strings.Join(append(words, more...), " ")
}

func base(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// fragment is sections as they stand in the report.
func (l *looking) fragment(blocks []page.Block) (template.HTML, error) {
	for i := range blocks {
		blocks[i].Figures = figure.Spoken(blocks[i].Figures, l.speech())
	}
	return page.Fragment(blocks...)
}

// speech has the page speak of the animals and occasions of its study. Figures are
// laid out for their words, so that they speak before; all else when it is a page.
func (l *looking) speech() func(string) string { return speech.Of(l.Study) }

// sectionsOf are the sections with the given headings.
func sectionsOf(p view.Page, headings ...string) []view.Section {
	var out []view.Section
	for _, s := range p.Sections {
		if slices.Contains(headings, s.Heading) {
			out = append(out, s)
		}
	}
	return out
}

// typed gives what was written into the fields of a form that was refused, and
// was its values where it was not. table is that of a form about one.
func (l *looking) typed(do, table string) func(key, value string) string {
	n := l.notes.of(l.at.Get("note"))
	if n == nil || n.Form.Get("do") != do || n.Form.Get("table") != table {
		return func(_, value string) string { return value }
	}
	return func(key, value string) string {
		if n.Form.Has(key) {
			return n.Form.Get(key)
		}
		return value
	}
}

//go:embed desk.html
var source string

type fault struct {
	At   at
	Text string
}
