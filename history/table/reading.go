package table

import (
	"bytes"
	"strconv"
	"unicode/utf8"

	"example.org/unseen/history/internal/dialect"
)

// cellDelimiter parts the fields of lines that are put together here; it stands
// in no cell.
const cellDelimiter = 0x1F

// byNumber are the names of columns that no line names.
func byNumber(n int) []string {
	names := make([]string, n)
	for i := range names {
		names[i] = strconv.Itoa(i + 1)
	}
	return names
}

// rewriteLines puts the lines of a text together anew, as many as there are.
func rewriteLines(text []byte, rewrite func(out, line []byte) []byte) []byte {
	out := make([]byte, 0, len(text)+len(text)/4)
	for len(text) > 0 {
		var line []byte
		line, text = dialect.CutLine(text)
		if !dialect.IsBlank(line) {
			out = rewrite(out, line)
		}
		out = append(out, '\n')
	}
	return out
}

// byWidth parts lines where columns of such widths end. What stands behind the
// last is a field too many, so that nothing is cut off silently.
func byWidth(widths []int) func(out, line []byte) []byte {
	return func(out, line []byte) []byte {
		for i, w := range widths {
			if i > 0 {
				out = append(out, cellDelimiter)
			}
			at := 0
			for ; w > 0 && at < len(line); w-- {
				_, n := utf8.DecodeRune(line[at:])
				at += n
			}
			out = appendCell(out, line[:at])
			line = line[at:]
		}
		if !dialect.IsBlank(line) {
			out = appendCell(append(out, cellDelimiter), line)
		}
		return out
	}
}

// byBlanks parts lines at blanks and tabs, however many.
func byBlanks(out, line []byte) []byte {
	for i, f := range bytes.FieldsFunc(line, func(r rune) bool { return r == ' ' || r == '\t' || r == '\u00a0' }) {
		if i > 0 {
			out = append(out, cellDelimiter)
		}
		out = appendCell(out, f)
	}
	return out
}

// appendCell appends a cell that looks neither like several, nor quoted.
func appendCell(out, cell []byte) []byte {
	for _, c := range bytes.TrimSpace(cell) {
		switch c {
		case cellDelimiter, '\n', '\r':
			c = ' '
		case '"':
			c = '\''
		}
		out = append(out, c)
	}
	return out
}
