package page

import (
	"cmp"
	"html/template"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cmd/unseen/internal/view"
)

// table is a view's table laid out as cells.
type table struct {
	Caption string
	// Hidden captions repeat the heading above the table.
	Hidden bool
	Head   [][]headCell
	Rows   []tableRow
	Notes  []view.Note
	// TSV is the first line of what is copied.
	TSV string
}

type headCell struct {
	Text, Class, Scope string
	Rows, Columns      int
}

type tableRow struct {
	Cells []cell
	// TSV is the row in full precision.
	TSV string
}

type cell struct {
	Text, Mark, Class string
	// Scope of a header cell: "row" or "rowgroup"; "" for data.
	Scope string
	Rows  int
}

// newTables lays out a table; heading names it where it has no title. One wider
// than width becomes several, each with the key columns; a table that is not
// shown becomes none.
func newTables(t view.Table, heading string, width float64) []*table {
	if t.CSVOnly || len(t.Rows) == 0 {
		return nil
	}
	t = answerFirst(t)
	var keys, rest []int
	for i, c := range t.Columns {
		switch {
		case c.Title == "":
		case c.Key:
			keys = append(keys, i)
		default:
			rest = append(rest, i)
		}
	}
	if len(keys) == 0 {
		keys, rest = rest[:1], rest[1:]
	}
	taken := 0.0
	for _, i := range keys {
		taken += columnWidth(t, i)
	}
	var out []*table
	panel, used := []int(nil), taken
	add := func() {
		// The columns keep their order, keys that stand among others too.
		shown := slices.Sorted(slices.Values(slices.Concat(keys, panel)))
		x := newTable(t, heading, shown, func(i int) bool { return slices.Contains(keys, i) })
		if len(out) > 0 {
			x.Caption, x.Hidden = x.Caption+", continued", false
		}
		out = append(out, x)
	}
	for _, i := range rest {
		w := columnWidth(t, i)
		if len(panel) > 0 && used+w > width {
			add()
			panel, used = nil, taken
		}
		panel = append(panel, i)
		used += w
	}
	add()
	out[len(out)-1].Notes = t.Notes
	return out
}

// answerFirst puts estimates before what they are made of, so that a screen that
// shows few columns shows these.
func answerFirst(t view.Table) view.Table {
	rank := func(c view.Column) int {
		switch {
		case c.Key:
			return 0
		case c.Kind == view.Range:
			return 1
		}
		return 2
	}
	order := make([]int, len(t.Columns))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return rank(t.Columns[a]) - rank(t.Columns[b]) })
	pick := func(from []view.Cell) []view.Cell {
		out := make([]view.Cell, len(order))
		for i, k := range order {
			out[i] = from[k]
		}
		return out
	}
	columns := t.Columns
	t.Columns, t.Rows = make([]view.Column, len(order)), slices.Clone(t.Rows)
	for i, k := range order {
		t.Columns[i] = columns[k]
	}
	for i, r := range t.Rows {
		t.Rows[i] = pick(r)
	}
	return t
}

// paperWidth is the width of A4 less its margins, in CSS pixels.
const paperWidth = 680

// columnWidth is about what a column takes on paper.
func columnWidth(t view.Table, i int) float64 {
	const letter, padding = 6.0, 11
	c := t.Columns[i]
	cell, bound, head := 0, 0, 0
	for _, w := range strings.Fields(c.Title) {
		head = max(head, len([]rune(w)))
	}
	for _, r := range t.Rows {
		x := r[i]
		switch c.Kind {
		case view.Text:
			cell = max(cell, min(24, len([]rune(x.Text))))
		case view.Range:
			bound = max(bound, len(view.Digits(x.Low, c.Digits)), len(view.Digits(x.High, c.Digits)))
			fallthrough
		default:
			cell = max(cell, len(view.Digits(x.Value, c.Digits)))
		}
	}
	if c.Kind == view.Range {
		return letter*float64(max(cell, len("estimate"))+2*max(bound, len("high"))) + 3*padding
	}
	return letter*float64(max(cell, head)) + padding
}

// newTable lays out the given columns.
func newTable(t view.Table, heading string, shown []int, key func(int) bool) *table {
	out := &table{Caption: t.Title}
	if out.Caption == "" {
		out.Caption, out.Hidden = heading, true
	}
	held := stay(t, shown, key)
	out.head(t, shown, held, slices.ContainsFunc(shown, func(i int) bool { return t.Columns[i].Kind == view.Range }))
	// A key left blank below its like reaches down from there; so does the next
	// key, where all before it do.
	covered := make([][]bool, len(t.Rows))
	for r, row := range t.Rows {
		covered[r] = make([]bool, len(t.Columns))
		for _, i := range shown {
			if !key(i) {
				continue
			}
			above := r > 0 && (covered[r-1][i] || t.Rows[r-1][i].Text != "")
			if t.Columns[i].Kind != view.Text || row[i].Text != "" || !above {
				break
			}
			covered[r][i] = true
		}
	}
	for r, row := range t.Rows {
		var line tableRow
		var tsv []string
		for _, i := range shown {
			c, x := t.Columns[i], row[i]
			at := len(line.Cells)
			switch {
			case covered[r][i]:
				k := r
				for covered[k][i] {
					k--
				}
				tsv = append(tsv, t.Rows[k][i].Text)
			case c.Kind == view.Text && key(i) && x.Text != "":
				tsv = append(tsv, x.Text)
				n := 1
				for r+n < len(t.Rows) && covered[r+n][i] {
					n++
				}
				h := cell{Text: x.Text, Mark: x.Mark, Class: textClass(x.Text), Scope: "row", Rows: n}
				if n > 1 {
					h.Scope = "rowgroup"
				}
				line.Cells = append(line.Cells, h)
			case c.Kind == view.Text:
				line.Cells = append(line.Cells, cell{Text: x.Text, Mark: x.Mark, Class: textClass(x.Text)})
				tsv = append(tsv, x.Text)
			case c.Kind == view.Range:
				low, high := "", ""
				if !math.IsNaN(x.Low) || !math.IsNaN(x.High) {
					low, high = view.Ends(x.Low, x.High, c.Digits)
				}
				line.Cells = append(line.Cells,
					cell{Text: x.Number(c.Digits), Mark: x.Mark, Class: "n e"},
					cell{Text: low, Class: "n b"}, cell{Text: high, Class: "n b"})
				tsv = append(tsv, full(x.Value), full(x.Low), full(x.High))
			default:
				digits := c.Digits
				if c.Kind == view.Count {
					digits = 0
				}
				d := cell{Text: x.Number(digits), Mark: x.Mark, Class: "n"}
				if key(i) {
					d.Scope, d.Rows = "row", 1
				}
				line.Cells = append(line.Cells, d)
				tsv = append(tsv, full(x.Value))
			}
			if len(line.Cells) > at && held[i] != "" {
				line.Cells[at].Class = strings.TrimSpace(line.Cells[at].Class + " " + held[i])
			}
		}
		line.TSV = strings.Join(tsv, "\t")
		out.Rows = append(out.Rows, line)
	}
	return out
}

// narrowPiece is of how many letters a piece of a word fits into a column of class
// k1 on a phone.
const narrowPiece = 9

// longestPiece is the most letters of a column, as the name of a file, between
// places where a line may break.
func longestPiece(t view.Table, i int) (most int) {
	texts := []string{t.Columns[i].Title}
	for _, r := range t.Rows {
		texts = append(texts, r[i].Text)
	}
	for _, s := range texts {
		for _, piece := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" -/", r) }) {
			most = max(most, len([]rune(piece)))
		}
	}
	return most
}

// longWord is one that is given more places where a line may break: file names.
var longWord = regexp.MustCompile(`\S{11,}`)

func breakable(s string) template.HTML {
	more := strings.NewReplacer("_", "_<wbr>", ".", "<wbr>.")
	return template.HTML(longWord.ReplaceAllStringFunc(template.HTMLEscapeString(s), more.Replace))
}

// stay gives the classes of the first key columns, which stay where they are
// when the others scroll: "k" of one, "k1" and "k2" of two, of which the first is
// of short words.
func stay(t view.Table, shown []int, key func(int) bool) map[int]string {
	out := map[int]string{}
	switch {
	case len(shown) > 2 && key(shown[0]) && key(shown[1]) && longestPiece(t, shown[0]) <= narrowPiece:
		out[shown[0]], out[shown[1]] = "k1", "k2"
	case key(shown[0]):
		out[shown[0]] = "k"
	}
	return out
}

// textClass lets long texts break over lines.
func textClass(s string) string {
	if len([]rune(s)) > 30 {
		return "t l"
	}
	return "t"
}

// head makes one line of headers, or two where values have bounds.
func (o *table) head(t view.Table, shown []int, held map[int]string, ranges bool) {
	lines := 1
	if ranges {
		lines = 2
	}
	o.Head = make([][]headCell, lines)
	var tsv []string
	for _, i := range shown {
		c := t.Columns[i]
		h := headCell{Text: c.Title, Scope: "col", Rows: lines, Columns: 1}
		if c.Kind == view.Text {
			h.Class = "t"
		}
		h.Class = strings.TrimSpace(h.Class + " " + held[i])
		tsv = append(tsv, c.Title)
		if c.Kind == view.Range {
			h.Scope, h.Rows, h.Columns, h.Class = "colgroup", 1, 3, "r"
			for _, s := range []string{"estimate", "low", "high"} {
				o.Head[1] = append(o.Head[1], headCell{Text: s, Scope: "col", Rows: 1, Columns: 1})
			}
			tsv = append(tsv, c.Title+" low", c.Title+" high")
		}
		o.Head[0] = append(o.Head[0], h)
	}
	o.TSV = strings.Join(tsv, "\t")
}

// full is a number with all its digits; empty where it does not exist.
func full(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// group is a view's table laid out; a long one has a summary, which is what
// paper shows.
type group struct {
	Tables []*table
	// Rows of a long table; 0 where it is shown as it is.
	Rows    int
	Summary []*table
}

// foldFrom is the number of rows from which on a table is long.
const foldFrom = 41

// newGroup lays out a table under a heading, no wider than width.
func newGroup(t view.Table, heading string, width float64) group {
	g := group{Tables: newTables(t, heading, width)}
	if len(g.Tables) > 0 && len(t.Rows) >= foldFrom {
		g.Rows = len(t.Rows)
		if s, ok := summary(t); ok {
			all := make([]int, len(s.Columns))
			for i := range all {
				all[i] = i
			}
			one := newTable(s, heading, all, func(i int) bool { return i == 0 })
			one.Notes = s.Notes
			g.Summary = []*table{one}
		}
	}
	return g
}

// summary has a line for each place (the last key of a table with several) and
// in it the lowest, the middle and the highest of the table's first estimate,
// each of whom it is; ok is false where the table has no such keys.
func summary(t view.Table) (out view.Table, ok bool) {
	var keys []int
	value := -1
	for i, c := range t.Columns {
		switch {
		case c.Title == "":
		case c.Key && c.Kind == view.Text:
			keys = append(keys, i)
		case c.Kind == view.Range && value < 0:
			value = i
		}
	}
	if len(keys) < 2 || value < 0 {
		return out, false
	}
	place, c := keys[len(keys)-1], t.Columns[value]
	type line struct {
		whom string
		cell view.Cell
	}
	var places []string
	byPlace := map[string][]line{}
	last := make([]string, len(t.Columns))
	for _, r := range t.Rows {
		for _, k := range keys {
			if r[k].Text != "" {
				last[k] = r[k].Text
			}
		}
		var whom []string
		for _, k := range keys[:len(keys)-1] {
			whom = append(whom, last[k])
		}
		if _, there := byPlace[last[place]]; !there {
			places = append(places, last[place])
			byPlace[last[place]] = nil
		}
		if !math.IsNaN(r[value].Value) {
			byPlace[last[place]] = append(byPlace[last[place]], line{strings.Join(whom, ", "), r[value]})
		}
	}
	if len(places) == 0 || len(places) >= foldFrom || len(places)*3 > len(t.Rows) {
		return out, false
	}
	out = view.Table{Title: strings.TrimSpace(t.Title + " " + c.Title + ": the lowest, the middle and the highest"), Notes: t.Notes,
		Columns: []view.Column{{Title: t.Columns[place].Title, Key: true}}}
	out.Columns = append(out.Columns, view.Column{Title: "lowest", Kind: view.Range, Digits: c.Digits}, view.Column{Title: "of"},
		view.Column{Title: "middle", Kind: view.Number, Digits: c.Digits},
		view.Column{Title: "highest", Kind: view.Range, Digits: c.Digits}, view.Column{Title: "of"})
	for _, p := range places {
		list := byPlace[p]
		row := []view.Cell{view.T(p)}
		slices.SortStableFunc(list, func(a, b line) int { return cmp.Compare(a.cell.Value, b.cell.Value) })
		if n := len(list); n == 0 {
			row = append(row, view.None(), view.T(""), view.None(), view.None(), view.T(""))
		} else {
			first, last := list[0], list[n-1]
			row = append(row, first.cell, view.T(first.whom), view.N(list[n/2].cell.Value), last.cell, view.T(last.whom))
		}
		out.Rows = append(out.Rows, row)
	}
	return out, true
}
