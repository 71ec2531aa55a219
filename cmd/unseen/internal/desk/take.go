package desk

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"mime"
	"net/http"
	"net/url"
	"path"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/cmd/unseen/internal/tablefile"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
)

func asError[T error](err error, target *T) bool { return errors.As(err, target) }

type takeData struct {
	At      at
	Data    bool
	Study   string
	Items   []takeItem
	Figures []takeFigure
	Fault   string
}

// takeItem is a file to be had, with the command that gives the same.
type takeItem struct{ Name, Says, Address, Command string }

type takeFigure struct {
	Title   string
	Formats []takeItem
}

// takeAway lists what can be taken away of the model at hand.
func (l *looking) takeAway() (template.HTML, error) {
	out := takeData{At: l.at, Data: l.Data != nil, Study: base(l.Name)}
	get := func(name string) string {
		q := url.Values{}
		for _, k := range modelKeys() {
			if v := l.at.Get(k); v != "" {
				q.Set(k, v)
			}
		}
		return address("get/"+name, q)
	}
	if l.Name != "" {
		out.Items = append(out.Items, takeItem{"Study file", "all that was chosen, to be kept with the data", get("study.toml"), ""})
	}
	if l.Data != nil {
		f, err := l.fitted()
		if err != nil {
			out.Fault = err.Error()
		} else {
			out.Items = append([]takeItem{
				{"Report", "one page with the answer, figures, tables, checks and methods", get("report.html"), l.command("report", "-o", "report.html")},
				{"Tables of the fit", "a workbook, each table a sheet", get("fit.xlsx"), l.command("fit", "--xlsx", "fit.xlsx")},
				{"Every number of the fit", "JSON, in full precision", get("fit.json"), l.command("fit", "--json")},
			}, out.Items...)
			figures, err := l.figures(f)
			if err != nil {
				return "", err
			}
			for _, fig := range figures {
				x := takeFigure{Title: fig.Title}
				for _, format := range []string{"svg", "png", "pdf"} {
					x.Formats = append(x.Formats, takeItem{Name: strings.ToUpper(format), Address: get("figure/" + fig.ID + "." + format)})
				}
				out.Figures = append(out.Figures, x)
			}
		}
		out.Items = append(out.Items, takeItem{"What was checked", "JSON: every box and finding", get("check.json"), "unseen check " + argv.Quoted(base(l.Name)) + " --json"})
	}
	return render("take", out)
}

// get hands out a file.
func (d *Desk) get(w http.ResponseWriter, r *http.Request) {
	l := &looking{Desk: d, snapshot: d.current(), ctx: r.Context(), at: at{"answer", r.URL.Query()}}
	name := r.PathValue("name")
	content, err := l.file(name)
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	if content == nil {
		http.NotFound(w, r)
		return
	}
	kind := mime.TypeByExtension(path.Ext(name))
	if kind == "" || path.Ext(name) == ".toml" {
		kind = "text/plain; charset=utf-8"
	}
	// What is handed out is for keeping: shown here it would be of this page.
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": path.Base(name)}))
	w.Header().Set("Content-Security-Policy", "sandbox; default-src 'none'")
	w.Header().Set("Content-Type", kind)
	w.Write(content)
}

// file is the content of a file to be had; nil where there is no such.
func (l *looking) file(name string) ([]byte, error) {
	var b bytes.Buffer
	switch {
	case name == "study.toml":
		if l.Name == "" {
			return nil, nil
		}
		return []byte(l.Text), nil
	case l.Data == nil:
		return nil, fmt.Errorf("there is no study that can be read yet")
	case name == "check.json":
		err := wire.Write(&b, wire.NewCheck(wire.NewHead("check", l.opt.Version, l.Data.Source()), l.Data, nil))
		return b.Bytes(), err
	}
	f, err := l.fitted()
	if err != nil {
		return nil, err
	}
	switch {
	case name == "fit.json":
		err = wire.Write(&b, wire.NewFit(wire.NewHead("fit", l.opt.Version, f.Source()), f))
	case name == "fit.xlsx":
		err = workbook(&b, view.Stamped(f.Source(), view.FitPage(f)).Saved(f.Source()))
	case name == "report.html":
		err = l.report(&b, f)
	case strings.HasPrefix(name, "figure/"):
		return l.figure(f, strings.TrimPrefix(name, "figure/"))
	default:
		return nil, nil
	}
	return b.Bytes(), err
}

// workbook writes all tables of a page, each as a sheet.
func workbook(w io.Writer, p view.Page) error {
	dir, remove, err := atomicfile.MkdirTemp()
	if err != nil {
		return err
	}
	defer remove()
	book, err := tablefile.NewWorkbook(dir)
	if err != nil {
		return err
	}
	defer book.Close()
	if err := tablefile.Add(book, p); err != nil {
		return err
	}
	return book.Write(w)
}

// gathered is all that the report of a fit is made of, worked out once.
func (l *looking) gathered(f *analysis.Fitted) (*page.Content, error) {
	type key struct{ fit *analysis.Fitted }
	return once(l.ctx, l.Desk.ctx, l.kept, key{f}, func(ctx context.Context) (*page.Content, error) { return page.Gather(ctx, apart(f), options(), nil) })
}

func (l *looking) report(w io.Writer, f *analysis.Fitted) error {
	content, err := l.gathered(f)
	if err != nil {
		return err
	}
	own := *content
	own.Version, own.Command = l.opt.Version, l.command("report", "-o", "report.html")
	return page.Write(w, page.Assemble(&own).Spoken(own.Source()))
}

// figures are those of the report.
func (l *looking) figures(f *analysis.Fitted) ([]*figure.Figure, error) {
	content, err := l.gathered(f)
	if err != nil {
		return nil, err
	}
	return figure.Spoken(content.Figures(), speech.Of(content.Source().StudyFile)), nil
}

// figure is one of them, by the name of its file.
func (l *looking) figure(f *analysis.Fitted, name string) ([]byte, error) {
	figures, err := l.figures(f)
	if err != nil {
		return nil, err
	}
	for _, fig := range figures {
		id, format, _ := strings.Cut(name, ".")
		if fig.ID != id {
			continue
		}
		var b bytes.Buffer
		switch format {
		case "svg":
			err = fig.SVG(&b, figure.Wide, "")
		case "png":
			err = fig.PNG(&b)
		case "pdf":
			err = fig.PDF(&b)
		default:
			return nil, nil
		}
		return b.Bytes(), err
	}
	return nil, nil
}
