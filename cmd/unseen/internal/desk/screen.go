package desk

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"net/http"
	"strconv"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/propose"
)

var (
	//go:embed desk.css
	style string
	//go:embed desk.js
	script string
	//go:embed icon.svg
	icon string
)

// screen is the whole page.
type screen struct {
	At         at
	Title      string
	Stamp      string
	Sentence   string
	Study, Sum string
	Mark       string // of what is looked at, to be told when it is another
	ReadOnly   bool
	Undo       string // what the last edit was; "" where there is none to take back
	River      []mark
	Parts      []partHead
	Note       *note
	Drawer     template.HTML
	Job        *jobState
}

// partHead is a part of the page with its state in words; Body of the one that
// is open.
type partHead struct {
	ID, Name, State string
	Class           string // done, needs, later
	Open            bool
	Body            template.HTML
}

// mark is a site of the river, and the reach below it.
type mark struct {
	Name         string
	Km           string
	Seen, Passed string
	Here         bool
	Address      string
	// Length of the line to the next site, in pixels, 0 at the last; Broken
	// where the next site did not work all the time.
	Length int
	Broken bool
}

// parts are those of the page, in the order of the job.
var parts = []struct{ id, name string }{
	{"tables", "Tables"}, {"check", "Check"}, {"answer", "Answer"}, {"trust", "Trust"}, {"season", "Season"}, {"plan", "Plan"},
}

// asides are pages beside the parts.
var asides = map[string]string{"fish": "One fish", "take": "Take away"}

// first leads to the part that is due.
func (d *Desk) first(w http.ResponseWriter, r *http.Request) {
	to := "/tables"
	if s := d.current(); s.Data != nil {
		to = "/answer"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// body makes the content of the parts.
func (l *looking) body(part string) (template.HTML, error) {
	switch part {
	case "tables":
		return l.tables()
	case "take":
		return l.takeAway()
	}
	if l.Data == nil {
		return render("notyet", l)
	}
	switch part {
	case "check":
		return l.check()
	case "answer":
		return l.answer()
	case "trust":
		return l.trust()
	case "season":
		return l.season()
	case "plan":
		return l.plan()
	default:
		return l.fish()
	}
}

// show answers with a view.
func (d *Desk) show(w http.ResponseWriter, r *http.Request) {
	l := &looking{Desk: d, snapshot: d.current(), ctx: r.Context(), at: atOf(r)}
	known := asides[l.at.Part] != ""
	for _, p := range parts {
		known = known || p.id == l.at.Part
	}
	if !known {
		http.NotFound(w, r)
		return
	}
	out := screen{At: l.at, Title: "A new study", Study: l.Name, Sum: l.Sum, ReadOnly: d.opt.ReadOnly, Note: d.notes.of(l.at.Get("note")), Job: d.jobs.state(), Mark: d.mark()}
	out.Undo = d.lastEdit(l.snapshot)
	var f *analysis.Fitted
	var why error
	if l.Data != nil {
		out.Title, out.Stamp = l.Data.Source().Name(), view.Stamp(l.Data)
		if f, why = l.fitted(); why == nil {
			out.Sentence = view.Answer(f)[0]
		}
		out.River = river(l.at, l.Data, f)
	}
	var err error
	if l.Name == "" && l.at.Part == "tables" {
		l.draft, err = d.draftNow(l.ctx)
	}
	if x := l.draft; x != nil && x.Data != nil {
		out.River = river(l.at, x.Data, nil)
	}
	var body template.HTML
	if err == nil {
		body, err = l.body(l.at.Part)
	}
	if err != nil {
		if l.ctx.Err() != nil {
			return
		}
		body, err = render("fault", fault{At: l.at, Text: err.Error()})
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
	}
	for _, p := range parts {
		h := partHead{ID: p.id, Name: p.name, Open: p.id == l.at.Part}
		h.Class, h.State = l.state(p.id, why)
		if h.Open {
			h.Body = body
		}
		out.Parts = append(out.Parts, h)
	}
	if name := asides[l.at.Part]; name != "" {
		out.Parts = append([]partHead{{ID: l.at.Part, Name: name, Open: true, Body: body, Class: "aside"}}, out.Parts...)
	}
	if out.Drawer, err = l.drawer(); err != nil {
		out.Drawer, _ = render("fault", fault{At: l.at, Text: err.Error()})
	}
	html, err := render("screen", out)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	io.WriteString(w, speech.HTML(string(html), l.speech()))
}

// state says in words how far a part is.
func (l *looking) state(part string, why error) (class, words string) {
	switch {
	case part == "tables" && l.Name == "":
		return "needs", "needs you: " + l.draftNeeds()
	case part == "tables" && l.Study == nil:
		return "needs", "needs you: the study file cannot be read"
	case part == "tables" && l.Data == nil:
		return "needs", "needs you: the tables cannot be read"
	case part == "tables":
		return "done", fmt.Sprintf("done: %s, %s", view.Plural(l.Data.Histories.Fish(), "fish", "fish"), view.Plural(len(l.Study.Sites), "site"))
	case l.Data == nil:
		return "later", "not yet: no tables are read"
	case part == "check" && !l.Data.HasSightings():
		return "done", "nothing to check: the study gives ready histories"
	case part == "check":
		if n := len(l.Data.Findings); n > 0 {
			return "done", view.Plural(n, "point", "points") + " to look at"
		}
		return "done", "done: nothing was found"
	case why != nil:
		if part == "answer" {
			return "needs", "needs you: the model cannot be fitted"
		}
		return "later", "not yet: no model is fitted"
	case part == "answer":
		if spec, err := l.Data.Spec(l.at.choice()); err == nil && spec.Name != "" {
			return "done", "done: " + spec.Name
		}
		return "done", "done"
	case part == "season" && l.Data.Histories.First == nil:
		return "later", "not for this study: it has no times"
	}
	return "look", map[string]string{"trust": "does it fit, how sure is it", "season": "what each day would have said", "plan": "the next season"}[part]
}

// draftNeeds says what is to be done about a study that is not written yet.
func (l *looking) draftNeeds() string {
	switch x := l.draft; {
	case x == nil:
		return "no study yet"
	case x.Text == "":
		return "the tables are no study yet"
	case x.Err != nil:
		return "the tables cannot be read so"
	default:
		n := 0
		for _, t := range x.Tables {
			if t.Kind != propose.Unused && !x.Right[t.Name] {
				n++
			}
		}
		if n > 0 {
			return "is this how " + view.Plural(n, "table is", "tables are") + " to be read?"
		}
		return "the study file is to be written"
	}
}

// river is the strip of sites, to the scale of km where they are given.
func river(a at, d *analysis.Data, f *analysis.Fitted) []mark {
	r := &d.Histories.River
	total := math.Abs(r.Sites[len(r.Sites)-1].Km - r.Sites[0].Km)
	out := make([]mark, len(r.Sites))
	for k, s := range r.Sites {
		m := mark{Name: s.Name, Here: a.Get("site") == s.Name, Seen: "", Address: a.With("site", s.Name)}
		if m.Here {
			m.Address = a.With("site", "")
		}
		if !math.IsNaN(s.Km) {
			m.Km = strconv.FormatFloat(s.Km, 'f', -1, 64)
		}
		if k+1 < len(r.Sites) {
			m.Length = 28
			if km := math.Abs(r.Sites[k+1].Km - s.Km); !math.IsNaN(km) && total > 0 {
				m.Length = 14 + int(180*km/total)
			}
			m.Broken = len(d.Study.Sites[k+1].Working) > 0
		}
		out[k] = m
	}
	out[0].Passed = view.Digits(float64(d.Histories.Fish()), 0) + " released"
	if f == nil {
		return out
	}
	for i := range f.Fit.Passed {
		p := &f.Fit.Passed[i]
		if len(p.Of) > 0 {
			continue
		}
		share := p.PassedShare
		if f.Fit.Problem.Running() {
			share = p.SoFar
		}
		out[p.Site].Seen = view.Digits(100*p.SeenShare.Value, 1) + " % seen"
		if !math.IsNaN(share.Value) {
			out[p.Site].Passed = view.Digits(100*share.Value, 1) + " % passed"
		}
	}
	return out
}
