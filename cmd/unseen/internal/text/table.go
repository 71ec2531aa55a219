package text

import (
	"bufio"
	"slices"
	"strings"

	"example.org/unseen/cmd/unseen/internal/view"
)

// column is a laid-out column: header lines and one string a row, all of the
// same width.
type column struct {
	head  []string
	cells []string
	width int
	right bool
	key   bool
}

// headWidth is where a header of several words breaks; a name of one word is
// never cut.
const headWidth = 10

// textWidths are the widest a column of words gets before it is wrapped: the
// first that lets the table fit is taken.
var textWidths = []int{66, 48, 30}

func table(b *bufio.Writer, t view.Table) {
	if t.Title != "" {
		paragraph(b, "", t.Title)
	}
	var cols []column
	for _, limit := range textWidths {
		cols = cols[:0]
		wide := -len(gap)
		for i, c := range t.Columns {
			if c.Title != "" {
				x := layOut(c, t.Rows, i, limit)
				cols = append(cols, x)
				wide += x.width + len(gap)
			}
		}
		if wide <= Width {
			break
		}
	}
	for i, panel := range panels(cols) {
		if i > 0 {
			b.WriteString("\n")
		}
		writePanel(b, panel, len(t.Rows))
	}
	for _, n := range t.Notes {
		paragraph(b, "  "+strings.TrimLeft(n.Mark+" ", " "), n.Text)
	}
}

func layOut(c view.Column, rows [][]view.Cell, at, limit int) column {
	out := column{right: c.Kind != view.Text, key: c.Key}
	if c.Kind == view.Range {
		out.cells = ranges(c, rows, at)
	} else {
		marked := anyMark(rows, at)
		for _, r := range rows {
			out.cells = append(out.cells, show(c, r[at], marked, limit))
		}
	}
	for _, s := range out.cells {
		for _, line := range strings.Split(s, "\n") {
			out.width = max(out.width, width(line))
		}
	}
	out.head = wrap(c.Title, max(headWidth, out.width))
	for _, s := range out.head {
		out.width = max(out.width, width(s))
	}
	return out
}

func anyMark(rows [][]view.Cell, at int) bool {
	return slices.ContainsFunc(rows, func(r []view.Cell) bool { return r[at].Mark != "" })
}

// show gives a cell's text. In a numeric column with marks, numbers without one
// keep the mark's place free so that digits stay under digits.
func show(c view.Column, x view.Cell, marked bool, limit int) string {
	switch c.Kind {
	case view.Text:
		return strings.Join(wrap(x.Text+x.Mark, limit), "\n")
	case view.Count:
		return view.Digits(x.Value, 0) + mark(x, marked)
	default:
		return view.Digits(x.Value, c.Digits) + mark(x, marked)
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
func ranges(c view.Column, rows [][]view.Cell, at int) []string {
	values, spans := make([]string, len(rows)), make([]string, len(rows))
	marked := anyMark(rows, at)
	wv, ws := 0, 0
	for i, r := range rows {
		x := r[at]
		values[i] = x.Number(c.Digits) + mark(x, marked)
		spans[i] = view.Bracket(x.Low, x.High, c.Digits, "")
		wv, ws = max(wv, width(values[i])), max(ws, width(spans[i]))
	}
	for i := range values {
		values[i] = pad(values[i], wv, true) + pad(spans[i], ws, false)
	}
	return values
}

// panels splits columns that do not fit the width into several tables, each
// beginning with the key columns.
func panels(cols []column) [][]column {
	var keys, rest []column
	room := Width
	for _, c := range cols {
		if c.key {
			keys = append(keys, c)
			room -= c.width + len(gap)
		} else {
			rest = append(rest, c)
		}
	}
	var out [][]column
	used := 0
	for _, c := range rest {
		if need := c.width + len(gap); len(out) == 0 || used+need-len(gap) > room {
			out = append(out, append([]column{}, keys...))
			used = 0
		}
		out[len(out)-1] = append(out[len(out)-1], c)
		used += c.width + len(gap)
	}
	if len(out) == 0 {
		return [][]column{keys}
	}
	return out
}

func writePanel(b *bufio.Writer, cols []column, rows int) {
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
		writeLine(b, parts)
	}
	parts := make([]string, len(cols))
	for i, c := range cols {
		parts[i] = strings.Repeat("─", c.width)
	}
	writeLine(b, parts)
	for r := range rows {
		cells := make([][]string, len(cols))
		lines := 0
		for i, c := range cols {
			cells[i] = strings.Split(c.cells[r], "\n")
			lines = max(lines, len(cells[i]))
		}
		for k := range lines {
			for i, c := range cols {
				s := ""
				if k < len(cells[i]) {
					s = cells[i][k]
				}
				parts[i] = pad(s, c.width, c.right)
			}
			writeLine(b, parts)
		}
	}
}

func writeLine(b *bufio.Writer, parts []string) {
	b.WriteString(strings.TrimRight(strings.Join(parts, gap), " ") + "\n")
}
