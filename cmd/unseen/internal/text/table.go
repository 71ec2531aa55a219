package text

import (
	"slices"
	"strings"

	"example.org/unseen/cmd/unseen/internal/view"
)

// column is a laid-out column: header lines and a cell of lines for each row, none
// wider than width.
type column struct {
	head  []string
	cells [][]string
	width int
	right bool
	key   bool
	// under is how many cells stand under each other, where they do; what is beside
	// them stands on their last line.
	under int
}

// headWidth is where a header of several words breaks; a name of one word is
// never cut.
const headWidth = 10

// textWidths are the widest a column of words gets before it is wrapped: the
// first that lets the table fit is taken. In one that folds it is foldedText.
var textWidths = []int{66, 48, 30, 20}

const foldedText = 30

// table writes a table. One that does not fit becomes several that do, each
// beginning with the columns that name the row.
func (b *sheet) table(t view.Table) {
	if t.Title != "" {
		b.paragraph("", t.Title)
	}
	var cols []column
	for _, limit := range textWidths {
		if cols = layOutAll(t, limit, limit); across(cols) <= b.wide {
			break
		}
	}
	if across(cols) > b.wide {
		if cols = layOutAll(t, foldedText, foldedText); across(keysOf(cols)) > keyRoom(b.wide) {
			// The keys will stand under each other, each but the last on lines of its own.
			cols = layOutAll(t, b.wide/2, b.wide-len(gap))
		}
	}
	for i, panel := range panels(cols, b.wide) {
		if i > 0 {
			b.WriteString("\n")
		}
		b.panel(panel, len(t.Rows))
	}
	for _, n := range t.Notes {
		b.paragraph("  "+strings.TrimLeft(n.Mark+" ", " "), n.Text)
	}
}

// across is how wide columns are beside each other.
func across(cols []column) int {
	wide := 0
	for i, c := range cols {
		if i > 0 {
			wide += len(gap)
		}
		wide += c.width
	}
	return wide
}

func keysOf(cols []column) []column {
	return slices.DeleteFunc(slices.Clone(cols), func(c column) bool { return !c.key })
}

// layOutAll lays out the columns that people see, words up to a limit, those of
// keys before the last key up to one of their own.
func layOutAll(t view.Table, limit, keyLimit int) []column {
	var cols []column
	keys := 0
	for _, c := range t.Columns {
		if c.Title != "" && c.Key {
			keys++
		}
	}
	keyed := keys > 0
	for i, c := range t.Columns {
		if c.Title == "" {
			continue
		}
		most := limit
		if c.Key {
			if keys--; keys > 0 {
				most = keyLimit
			}
		}
		cols = append(cols, layOut(c, t.Rows, i, most))
	}
	if len(cols) > 0 && !keyed {
		cols[0].key = true
	}
	return cols
}

func layOut(c view.Column, rows [][]view.Cell, at, limit int) column {
	out := column{right: c.Kind != view.Text, key: c.Key}
	if c.Kind == view.Range {
		out.cells = ranges(c, rows, at)
	} else {
		if c.Kind == view.Text {
			limit = max(limit, longestWord(rows, at)) // the column is as wide in any case
		}
		marked := anyMark(rows, at)
		for _, r := range rows {
			out.cells = append(out.cells, show(c, r[at], marked, limit))
		}
	}
	for _, lines := range out.cells {
		out.width = max(out.width, widest(lines))
	}
	out.head = wrap(c.Title, max(headWidth, out.width))
	out.width = max(out.width, widest(out.head))
	return out
}

func longestWord(rows [][]view.Cell, at int) int {
	n := 0
	for _, r := range rows {
		n = max(n, widest(strings.Fields(r[at].Text+r[at].Mark)))
	}
	return n
}

func anyMark(rows [][]view.Cell, at int) bool {
	return slices.ContainsFunc(rows, func(r []view.Cell) bool { return r[at].Mark != "" })
}

// show gives a cell's lines. In a numeric column with marks, numbers without one
// keep the mark's place free so that digits stay under digits.
func show(c view.Column, x view.Cell, marked bool, limit int) []string {
	switch c.Kind {
	case view.Text:
		return wrap(x.Text+x.Mark, limit)
	case view.Count:
		return []string{view.Digits(x.Value, 0) + mark(x, marked)}
	default:
		return []string{x.Number(c.Digits) + mark(x, marked)}
	}
}

func mark(x view.Cell, marked bool) string {
	if marked && x.Mark == "" {
		return " "
	}
	return x.Mark
}

// ranges lays out values with intervals: "43.1 (40.2–46.0)", values under
// values, brackets under brackets.
func ranges(c view.Column, rows [][]view.Cell, at int) [][]string {
	values, spans := make([]string, len(rows)), make([]string, len(rows))
	marked := anyMark(rows, at)
	wv, ws := 0, 0
	for i, r := range rows {
		x := r[at]
		values[i] = x.Number(c.Digits) + mark(x, marked)
		spans[i] = view.Bracket(x.Low, x.High, c.Digits, "")
		wv, ws = max(wv, width(values[i])), max(ws, width(spans[i]))
	}
	cells := make([][]string, len(rows))
	for i := range values {
		cells[i] = []string{pad(values[i], wv, true) + pad(spans[i], ws, false)}
	}
	return cells
}

// keyRoom is how wide keys may be beside each other.
func keyRoom(wide int) int { return wide * 3 / 5 }

// panels splits columns that do not fit the width into several tables, each
// beginning with the key columns. Keys that are too wide beside each other stand
// under each other, in one column; so does what does not fit beside them.
func panels(cols []column, wide int) [][]column {
	if across(cols) <= wide {
		return [][]column{cols}
	}
	keys := keysOf(cols)
	if across(keys) > keyRoom(wide) {
		keys = []column{under(keys)}
	}
	var out [][]column
	var last []column
	for _, c := range cols {
		if c.key {
			continue
		}
		if last != nil && across(append(last, c)) <= wide {
			last = append(last, c)
			out[len(out)-1] = last
			continue
		}
		if last = append(slices.Clone(keys), c); across(last) > wide {
			alone := under(last)
			for _, lines := range alone.cells {
				alone.width = max(alone.width, widest(lines))
			}
			last = []column{alone}
		}
		out = append(out, last)
	}
	if len(out) == 0 {
		return [][]column{keys}
	}
	return out
}

// under puts the columns' cells under each other, each further one indented more.
// What is as in the row before, but for the last, is not said again. It is as wide
// as the last, which alone has something beside it.
func under(cols []column) column {
	out := column{cells: make([][]string, len(cols[0].cells))}
	add := func(lines, more []string, indent string) []string {
		for _, s := range more {
			if s = strings.TrimRight(s, " "); s != "" {
				lines = append(lines, indent+s)
			}
		}
		return lines
	}
	same := make([]bool, len(out.cells)) // as in the row before, so far
	for r := range same {
		same[r] = r > 0
	}
	for i, c := range cols {
		indent := strings.Repeat(gap, out.under)
		out.under += max(1, c.under)
		out.head = add(out.head, c.head, indent)
		for r := range out.cells {
			same[r] = same[r] && i < len(cols)-1 && slices.Equal(c.cells[r], c.cells[r-1])
			if !same[r] {
				out.cells[r] = add(out.cells[r], c.cells[r], indent)
			}
		}
	}
	out.width = widest(out.head)
	last := cols[len(cols)-1]
	for r := range out.cells {
		own := out.cells[r][len(out.cells[r])-len(add(nil, last.cells[r], "")):]
		out.width = max(out.width, widest(own))
	}
	return out
}

func (b *sheet) panel(cols []column, rows int) {
	head := 0
	for _, c := range cols {
		head = max(head, len(c.head))
	}
	for line := range head {
		parts := make([]string, len(cols))
		for i, c := range cols {
			// Headers stand on the rule, so that short ones are beside their numbers.
			if k := line - (head - len(c.head)); k >= 0 {
				parts[i] = pad(c.head[k], c.width, c.right)
			} else {
				parts[i] = pad("", c.width, false)
			}
		}
		b.row(parts)
	}
	parts := make([]string, len(cols))
	for i, c := range cols {
		parts[i] = strings.Repeat("─", c.width)
	}
	b.row(parts)
	for r := range rows {
		lines := 0
		for _, c := range cols {
			lines = max(lines, len(c.cells[r]))
		}
		for k := range lines {
			for i, c := range cols {
				s, at := "", k
				if cols[0].under > 0 {
					at -= lines - len(c.cells[r])
				}
				if at >= 0 && at < len(c.cells[r]) {
					s = c.cells[r][at]
				}
				parts[i] = pad(s, c.width, c.right)
			}
			b.row(parts)
		}
	}
}

func (b *sheet) row(parts []string) {
	b.WriteString(strings.TrimRight(strings.Join(parts, gap), " ") + "\n")
}
