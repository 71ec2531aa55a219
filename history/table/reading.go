package table

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"

	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
)

// cellDelimiter parts the fields of lines that are put together here; it stands
// in no cell.
const cellDelimiter = 0x1F

// decode has the text read in the encoding that the study says, if it does.
func (s *source) decode(start []byte) error {
	name := s.reading.Encoding
	if name == "" || name == "utf-8" {
		return nil
	}
	var is encoding.Encoding
	mark := 0
	switch name {
	case "utf-16", "utf-32":
		if is, mark = dialect.WideEncoding(start); is == nil {
			return s.refuse(1, "this is no text in %s, as encoding says", name)
		}
	default:
		var err error
		if is, err = study.EncodingOf(name); err != nil {
			return s.refuse(0, "no encoding is called %q", name)
		}
	}
	s.skip(start, mark)
	s.text, s.plain = is.NewDecoder().Reader(s.text), false
	return nil
}

// cut settles what parts the fields of a text.
func (s *source) cut(start []byte, whole bool) {
	r := &s.reading
	text := start
	for n := 1; len(r.HeaderLine) > 0 && n < r.HeaderLine[len(r.HeaderLine)-1]; n++ {
		_, text, _ = bytes.Cut(text, []byte("\n"))
	}
	switch {
	case r.Widths != nil:
		s.delimiter, s.rewrite, s.plain = cellDelimiter, byWidth(r.Widths), false
	case r.Delimiter == study.Blanks:
		s.delimiter, s.rewrite, s.plain = cellDelimiter, byBlanks, false
	case r.Delimiter != "":
		s.delimiter = r.Delimiter[0]
	default:
		s.delimiter = dialect.Delimiter(text, whole)
	}
	if r.NoHeader() {
		s.columns = s.countColumns(start, whole)
	}
}

// countColumns is how many fields most of the first lines of a text have.
func (s *source) countColumns(start []byte, whole bool) int {
	if !whole { // the last line is perhaps cut off
		start = start[:bytes.LastIndexByte(start, '\n')+1]
	}
	split := dialect.Splitter{Delimiter: s.delimiter}
	count := map[int]int{}
	best := 0
	for line := range bytes.Lines(start) {
		line, _ = dialect.CutLine(line)
		if s.rewrite != nil {
			line = s.rewrite(nil, line)
		}
		if f, ok := split.Line(line); ok && !dialect.IsBlank(line) {
			n := f.Count()
			if count[n]++; count[n] > count[best] || count[n] == count[best] && n > best {
				best = n
			}
		}
	}
	return best
}

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

// header reads the names of the columns from the lines that hold them.
func (t *Table) header() error {
	lines := t.file.reading.HeaderLine
	if t.file.reading.NoHeader() {
		t.Header = byNumber(t.file.columns)
		if len(t.Header) == 0 {
			return t.file.refuse(1, "the table is empty")
		}
		return nil
	}
	if len(lines) > 0 {
		if err := t.skipTo(lines[0]); err != nil {
			return err
		}
	}
	for {
		fields, line, err := t.records.next()
		var re *recordError
		switch {
		case errors.Is(err, io.EOF) && len(lines) > 0:
			return t.file.refuse(line, "the file ends before line %d, which names the columns as header_line says", lines[len(lines)-1])
		case errors.Is(err, io.EOF):
			return t.file.refuse(1, "the table is empty; its first line must name the columns")
		case errors.As(err, &re):
			return t.file.refuse(re.line, "%s", re.message)
		case err != nil:
			return t.file.refuse(line, "%v", err)
		case blank(fields) && len(lines) == 0:
			continue
		case blank(fields) && len(lines) == 1:
			return t.file.refuse(line, "the line is blank, and header_line says that it names the columns")
		}
		t.line = line
		t.nameColumns(fields)
		if len(lines) == 0 || line >= lines[len(lines)-1] {
			return nil
		}
	}
}

// nameColumns puts the names of a line of the header behind those of the lines
// above.
func (t *Table) nameColumns(fields []string) {
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = TakenBack(strings.TrimSpace(f))
	}
	if t.Header == nil {
		t.Header = names
		return
	}
	t.Header = JoinNames(t.Header, names)
}

// JoinNames are the names of columns that stand in two lines. A name in the upper
// one that stands over several columns is that of the first of them, as where
// cells are merged.
func JoinNames(high, low []string) []string {
	out := make([]string, max(len(high), len(low)))
	over := ""
	for i := range out {
		name := ""
		if i < len(low) {
			name = low[i]
		}
		if i < len(high) && high[i] != "" {
			over = high[i]
			name = strings.TrimSpace(over + " " + name)
		} else if name != "" && over != "" {
			name = over + " " + name
		}
		out[i] = name
	}
	return out
}

// skipTo passes over what stands before a line.
func (t *Table) skipTo(line int) error {
	var err error
	switch r := t.records.(type) {
	case *textRecords:
		for r.line+1 < line && err == nil {
			_, err = r.nextLine()
			if re := (*recordError)(nil); errors.As(err, &re) && !re.fatal {
				err = nil
			}
		}
	case *sheetRecords:
		for r.row+1 < line && err == nil {
			_, _, err = r.next()
		}
	}
	if errors.Is(err, io.EOF) {
		return t.file.refuse(0, "the file ends before line %d, which names the columns as header_line says", line)
	} else if err != nil {
		return t.file.refuse(0, "%v", err)
	}
	return nil
}

// onlySheet refuses what is said of a file that is of the other sort, text or a
// workbook.
func (s *source) onlySheet() error {
	r := &s.reading
	switch {
	case s.isSheet && (r.Widths != nil || r.Delimiter != "" || r.Encoding != ""):
		return s.refuse(0, "this is a workbook; widths, delimiter and encoding are for text")
	case !s.isSheet && r.Sheet != "":
		return s.refuse(0, "this is text; sheet = %q is for workbooks", r.Sheet)
	}
	return nil
}

// sameReading tells whether two files are read alike.
func sameReading(a, b study.Reading) bool {
	return a.Sheet == b.Sheet && slices.Equal(a.HeaderLine, b.HeaderLine) && slices.Equal(a.Widths, b.Widths) &&
		a.Delimiter == b.Delimiter && a.Encoding == b.Encoding && a.Decimal == b.Decimal
}
