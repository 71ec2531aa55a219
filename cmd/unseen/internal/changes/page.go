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

	for _, x := range r.estimates() {
		if len(x.list) == 0 {
			continue
		}
		s := view.Section{Heading: x.heading}
		moved, still := estimateTables(x.id, x.what, x.list, x.digits)
		s.Tables = moved
		s.Notes = unmoved(still)
		p.Sections = append(p.Sections, s)
	}
	if len(r.Numbers) > 0 {
		s := view.Section{Heading: "Other numbers"}
		tables, still := r.numberTables()
		s.Tables, s.Notes = tables, unmoved(still)
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
			s.Warnings = append(s.Warnings, view.Warning{ID: w.ID, About: w.About, Message: w.Message})
		}
		p.Sections = append(p.Sections, s)
	}
	return p
}

// Brief shows of the estimates what all fish passed, and counts the others that moved.
func (r *Result) Brief(title, stamp string) view.Page {
	whole := r.Page(title, stamp)
	short := *r
	short.Passed = slices.DeleteFunc(slices.Clone(r.Passed), func(p Pair) bool { return len(p.Of) > 0 })
	short.Survival, short.Detection, short.Numbers = nil, nil, nil
	p := short.Page(title, stamp)
	p.Sections[0] = whole.Sections[0] // what the answer says is of all
	if more := r.movedEstimates() - short.movedEstimates(); more > 0 {
		p.Sections = append(p.Sections, view.Section{Notes: []string{
			view.Plural(more, "further number", "further numbers") + " moved (groups of fish, survival, detection and others): --full shows them."}})
	}
	return p
}

// movedEstimates counts the estimates, and the other numbers of the answer, that
// moved in the digits shown.
func (r *Result) movedEstimates() (n int) {
	for _, x := range r.estimates() {
		for i := range x.list {
			if x.list[i].Moved(0.5 * math.Pow10(-x.digits)) {
				n++
			}
		}
	}
	for i := range r.Numbers {
		if r.Numbers[i].Moved() {
			n++
		}
	}
	return n
}

// estimates are the lists of estimates with what they are and the digits shown.
func (r *Result) estimates() []listed {
	return []listed{
		{"Passed", "passed_changes", passedName(r.RunningNow), r.Passed, 1},
		{"Survival", "survival_changes", "survival", r.Survival, 3},
		{"Detection", "detection_changes", "detection", r.Detection, 3},
	}
}

type listed struct {
	heading, id, what string
	list              []Pair
	digits            int
}

func unmoved(n int) []string {
	if n == 0 {
		return nil
	}
	return []string{view.Plural(n, "estimate has", "estimates have") + " not moved in the digits shown."}
}

// numberTables gives a table for each kind of other numbers that moved, one of
// all for programs, and how many did not move.
func (r *Result) numberTables() (tables []view.Table, still int) {
	whole := view.Table{ID: "number_changes", CSVOnly: true, Columns: []view.Column{
		{Name: "what"}, {Name: "of"}, {Name: "place"}, {Name: "before", Kind: view.Range, Digits: 3}, {Name: "now", Kind: view.Range, Digits: 3},
		{Name: "shift", Kind: view.Number}, {Name: "shift_se", Kind: view.Number}}}
	for start := 0; start < len(r.Numbers); {
		end := start
		var list []Pair
		for ; end < len(r.Numbers) && r.Numbers[end].What == r.Numbers[start].What; end++ {
			e := r.Numbers[end].Pair
			list = append(list, e)
			whole.Rows = append(whole.Rows, []view.Cell{view.T(r.Numbers[start].What), view.T(whom(e.Of)), view.T(e.Place), cell(e.Before), cell(e.Now), view.N(float64(e.Shift)), view.N(float64(e.ShiftSE))})
		}
		moved, n := estimateTables("", r.Numbers[start].What, list, r.Numbers[start].digits)
		tables = append(tables, moved[:len(moved)-1]...)
		still += n
		start = end
	}
	return append(tables, whole), still
}

func cell(e wire.Estimate) view.Cell {
	return view.R(float64(e.Estimate), float64(e.Low), float64(e.High))
}

// visible is the least shift of a percentage that shows.
const visible = 0.05

func (r *Result) answer() []string {
	var out []string
	var now, before tongue = final, final
	if r.RunningNow {
		now = forecast
		out = append(out, tell(r.number("passed so far %"), soFar, soFar)...)
	}
	if r.RunningBefore {
		before = forecast
	}
	out = append(out, tell(r.Passed, now, before)...)
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
	case r.moved() && r.studyNamed:
		out = append(out, "The files that were read and the model are the same: the program, the day or a flag differs.")
	case r.moved():
		out = append(out, "The tables that were read and the model are the same: the study file itself differs, which the earlier result does not name.")
	case !r.studyNamed:
		out = append(out, "Nothing has changed: the same tables, the same model, the same numbers. The earlier result does not name its study file.")
	default:
		out = append(out, "Nothing has changed: the same files, the same model, the same numbers.")
	}
	return out
}

// moved tells whether any number of the answer, a count or a warning differs.
func (r *Result) moved() bool {
	counted := func(c Count) bool {
		return (c.Before == nil) != (c.Now == nil) || c.Before != nil && *c.Before != *c.Now
	}
	return r.movedEstimates() > 0 ||
		slices.ContainsFunc(r.Counts, counted) ||
		slices.ContainsFunc(r.Measures, func(m Measure) bool { return differs(m.Before, m.Now, 0.5*math.Pow10(-m.digits())) }) ||
		len(r.WarningsNew)+len(r.WarningsGone) > 0
}

// number are the estimates of the other number of that name.
func (r *Result) number(what string) (out []Pair) {
	for _, n := range r.Numbers {
		if n.What == what {
			out = append(out, n.Pair)
		}
	}
	return out
}

// tongue is how a share that passed a site is told of: now, earlier, and where
// it was told of earlier alone.
type tongue struct{ now, before, lost string }

var (
	final    = tongue{"%s %% passed %s", "said", "%s %% had passed %s in the earlier result; now that cannot be said."}
	soFar    = tongue{"%s %% had passed %s so far", "said", "%s %% had passed %s so far in the earlier result; now that cannot be said."}
	forecast = tongue{"%s %% are expected to have passed %s by the season's end", "expected", "%s %% were expected in the earlier result to have passed %s by the season's end; now that cannot be said."}
)

// tell says what all fish of the last site are told to have passed, now and
// before, and at which sites that is told no more.
func tell(list []Pair, as, was tongue) (out []string) {
	var last *Pair
	var lost []string
	for i := range list {
		e := &list[i]
		switch before, now := float64(e.Before.Estimate), float64(e.Now.Estimate); {
		case len(e.Of) > 0:
		case !math.IsNaN(now):
			last = e
		case !math.IsNaN(before):
			lost = append(lost, fmt.Sprintf(was.lost, view.Digits(before, 1), e.Place))
		}
	}
	if last != nil {
		before := float64(last.Before.Estimate)
		s := fmt.Sprintf(as.now, view.Digits(float64(last.Now.Estimate), 1), last.Place)
		switch {
		case math.IsNaN(before):
			s += "; the earlier result could not say"
		case as == was && !last.Moved(visible):
			s += ", as in the earlier result"
		default:
			s += fmt.Sprintf("; the earlier result %s %s %%", was.before, view.Digits(before, 1))
			if as == was && !math.IsNaN(float64(last.ShiftSE)) {
				s += fmt.Sprintf(", a shift of %s of its standard errors", signed(float64(last.ShiftSE), 1))
			}
		}
		out = append(out, s+".")
	}
	return append(out, lost...)
}

// signed shows which way a number moved.
func signed(x float64, digits int) string {
	return view.Signed(x, digits)
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

// digits of a measure as shown: counts have none.
func (m *Measure) digits() int {
	if m.Before == wire.Number(math.Trunc(float64(m.Before))) {
		return 0
	}
	return 3
}

func (r *Result) measureTable() view.Table {
	t := view.Table{ID: "measure_changes", Columns: []view.Column{
		{Name: "what", Title: "measure", Key: true}, {Title: "before"}, {Title: "now"},
		{Name: "before", Kind: view.Number}, {Name: "now", Kind: view.Number}}}
	for _, m := range r.Measures {
		digits := m.digits()
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
