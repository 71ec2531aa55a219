package changes

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// Page shows what moved; what did not is counted, not listed.
func (r *Result) Page(title, stamp string) view.Page {
	p := view.Page{Title: title, Stamp: stamp}
	p.Sections = append(p.Sections, view.Section{Paragraphs: r.answer()})

	data := view.Section{Heading: "Data, since " + r.Since.File}
	if t := r.fileTable(); len(t.Rows) > 0 {
		data.Tables = append(data.Tables, t)
	}
	counts, still := r.countTable()
	data.Tables = append(data.Tables, counts...)
	if still > 0 {
		data.Notes = []string{view.Plural(still, "count has", "counts have") + " not changed."}
	}
	p.Sections = append(p.Sections, data)

	model := view.Section{Heading: "Model and fit", Tables: []view.Table{r.wordTable(), r.measureTable()}}
	if len(r.Model) == 0 {
		model.Tables = model.Tables[1:]
		model.Paragraphs = []string{"The model and how it is fitted are the same."}
	}
	p.Sections = append(p.Sections, model)

	for _, x := range []struct {
		heading, id, what string
		list              []Pair
		digits            int
	}{
		{"Passed", "passed_changes", "passed %", r.Passed, 1},
		{"Survival", "survival_changes", "survival", r.Survival, 3},
		{"Detection", "detection_changes", "detection", r.Detection, 3},
	} {
		if len(x.list) == 0 {
			continue
		}
		s := view.Section{Heading: x.heading}
		moved, still := estimateTables(x.id, x.what, x.list, x.digits)
		s.Tables = moved
		if still > 0 {
			s.Notes = []string{view.Plural(still, "estimate has", "estimates have") + " not moved in the digits shown."}
		}
		p.Sections = append(p.Sections, s)
	}
	for _, x := range []struct {
		heading string
		list    []wire.Warning
	}{{"New warnings", r.WarningsNew}, {"Warnings that are gone", r.WarningsGone}} {
		if len(x.list) == 0 {
			continue
		}
		s := view.Section{Heading: x.heading}
		for _, w := range x.list {
			s.Warnings = append(s.Warnings, view.Warning(w))
		}
		p.Sections = append(p.Sections, s)
	}
	return p
}

// visible is the least shift of a percentage that shows.
const visible = 0.05

func (r *Result) answer() []string {
	var out []string
	var last *Pair
	moved := 0
	var lost []string
	for i := range r.Passed {
		e := &r.Passed[i]
		if e.Moved(visible) {
			moved++
		}
		switch before, now := float64(e.Before.Estimate), float64(e.Now.Estimate); {
		case len(e.Of) > 0:
		case !math.IsNaN(now):
			last = e
		case !math.IsNaN(before):
			lost = append(lost, fmt.Sprintf("%s %% had passed %s in the earlier result; now that cannot be said.", view.Digits(before, 1), e.Place))
		}
	}
	if last != nil {
		before, now := float64(last.Before.Estimate), float64(last.Now.Estimate)
		switch {
		case math.IsNaN(before):
			out = append(out, fmt.Sprintf("%s %% passed %s; the earlier result could not say.", view.Digits(now, 1), last.Place))
		case !last.Moved(visible):
			out = append(out, fmt.Sprintf("%s %% passed %s, as in the earlier result.", view.Digits(now, 1), last.Place))
		default:
			s := fmt.Sprintf("%s %% passed %s; the earlier result said %s %%", view.Digits(now, 1), last.Place, view.Digits(before, 1))
			if !math.IsNaN(float64(last.ShiftSE)) {
				s += fmt.Sprintf(", a shift of %s of its standard errors", signed(float64(last.ShiftSE), 1))
			}
			out = append(out, s+".")
		}
	}
	out = append(out, lost...)
	var what []string
	for _, f := range r.Files {
		what = append(what, f.File+" ("+f.Change+")")
	}
	const most = 5
	if len(what) > most {
		what = append(what[:most], view.Plural(len(r.Files)-most, "further file"))
	}
	for _, w := range r.Model {
		if w.What != "verdict" {
			what = append(what, w.What)
		}
	}
	switch {
	case len(what) > 0:
		out = append(out, "What differs: "+view.And(what)+".")
	case moved == 0:
		out = append(out, "Nothing has changed: the same files, the same model, the same numbers.")
	default:
		out = append(out, "The files that were read and the model are the same: the study file itself differs.")
	}
	return out
}

// signed shows which way a number moved.
func signed(x float64, digits int) string {
	s := view.Digits(x, digits)
	if x > 0 {
		s = "+" + s
	}
	return strings.Replace(s, "-", "−", 1)
}

func (r *Result) fileTable() view.Table {
	t := view.Table{ID: "files_changed", Columns: []view.Column{{Name: "file", Title: "file", Key: true}, {Name: "change", Title: "is"}}}
	for _, f := range r.Files {
		t.Rows = append(t.Rows, []view.Cell{view.T(f.File), view.T(f.Change)})
	}
	return t
}

// countTable gives the counts that moved, all of them for programs, and the
// number that did not.
func (r *Result) countTable() (tables []view.Table, still int) {
	whole := view.Table{ID: "count_changes", CSVOnly: true, Columns: []view.Column{
		{Name: "what", Title: "count", Key: true}, {Name: "before", Title: "before", Kind: view.Count},
		{Name: "now", Title: "now", Kind: view.Count}, {Name: "shift", Kind: view.Count}, {Title: "shift"},
	}}
	short := whole
	short.ID, short.CSVOnly = "", false
	cell := func(n *int64) view.Cell {
		if n == nil {
			return view.None()
		}
		return view.I(*n)
	}
	for _, c := range r.Counts {
		shift := math.NaN()
		if c.Before != nil && c.Now != nil {
			shift = float64(*c.Now - *c.Before)
		}
		row := []view.Cell{view.T(c.What), cell(c.Before), cell(c.Now), view.N(shift), view.T(signed(shift, 0))}
		whole.Rows = append(whole.Rows, row)
		if shift == 0 {
			still++
		} else {
			short.Rows = append(short.Rows, row)
		}
	}
	if len(short.Rows) > 0 {
		tables = append(tables, short)
	}
	return append(tables, whole), still
}

func (r *Result) wordTable() view.Table {
	t := view.Table{ID: "model_changes", Columns: []view.Column{
		{Name: "what", Title: "what", Key: true}, {Name: "before", Title: "before"}, {Name: "now", Title: "now"}}}
	for _, w := range r.Model {
		t.Rows = append(t.Rows, []view.Cell{view.T(w.What), view.T(w.Before), view.T(w.Now)})
	}
	return t
}

func (r *Result) measureTable() view.Table {
	t := view.Table{ID: "measure_changes", Columns: []view.Column{
		{Name: "what", Title: "measure", Key: true}, {Title: "before"}, {Title: "now"},
		{Name: "before", Kind: view.Number}, {Name: "now", Kind: view.Number}}}
	for _, m := range r.Measures {
		digits := 3
		if m.Before == wire.Number(math.Trunc(float64(m.Before))) {
			digits = 0
		}
		before, now := float64(m.Before), float64(m.Now)
		t.Rows = append(t.Rows, []view.Cell{view.T(m.What), view.T(view.Digits(before, digits)), view.T(view.Digits(now, digits)), view.N(before), view.N(now)})
	}
	return t
}

// estimateTables gives the estimates that moved, all of them for programs, and
// the number that did not.
func estimateTables(id, what string, list []Pair, digits int) (tables []view.Table, still int) {
	whole := view.Table{ID: id, CSVOnly: true, Columns: []view.Column{
		{Name: "of", Title: "fish", Key: true}, {Name: "place", Title: "place", Key: true},
		{Name: "before", Title: what + " before", Kind: view.Range, Digits: digits},
		{Name: "now", Title: what + " now", Kind: view.Range, Digits: digits},
		{Name: "shift", Kind: view.Number}, {Name: "shift_se", Kind: view.Number},
		{Title: "shift, in standard errors before"},
	}}
	short := whole
	short.ID, short.CSVOnly = "", false
	cell := func(e wire.Estimate) view.Cell {
		return view.R(float64(e.Estimate), float64(e.Low), float64(e.High))
	}
	for _, e := range list {
		row := []view.Cell{view.T(whom(e.Of)), view.T(e.Place), cell(e.Before), cell(e.Now),
			view.N(float64(e.Shift)), view.N(float64(e.ShiftSE)), view.T(signed(float64(e.ShiftSE), 1))}
		whole.Rows = append(whole.Rows, row)
		if e.Moved(0.5 * math.Pow10(-digits)) {
			short.Rows = append(short.Rows, row)
		} else {
			still++
		}
	}
	if len(short.Rows) > 0 {
		tables = append(tables, short)
	}
	return append(tables, whole), still
}

// whom names the fish of an entry.
func whom(of map[string]string) string {
	if len(of) == 0 {
		return "all fish"
	}
	var out []string
	for _, k := range slices.Sorted(maps.Keys(of)) {
		out = append(out, of[k])
	}
	return strings.Join(out, ", ")
}
