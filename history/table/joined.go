package table

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
)

// joiner puts columns that a study joins, such as year, month and day, before the
// columns that a table has: all who read it find them there by name. Before that
// it fills cells with those above, where the study says so. Records come in order.
type joiner struct {
	joins []study.Join
	at    [][]int // the columns of each
	parts [][]byte
	buf   []byte

	fill   []int    // the columns to fill
	called []string // of them
	last   [][]byte // the cell met last in each
}

// newJoiner finds the columns to join and to fill in a header; nil where there are
// none. A join of which a column is missing gives none; a column to fill must be
// there.
func newJoiner(header []string, how *study.Reading) (*joiner, error) {
	j := &joiner{}
	for _, name := range how.FillDown {
		i := slices.Index(header, name)
		if i < 0 {
			return nil, fmt.Errorf("no column %q to fill down; the table has %s%s", name, strings.Join(header, ", "), history.Propose(name, header))
		}
		j.fill, j.called, j.last = append(j.fill, i), append(j.called, name), append(j.last, nil)
	}
	for _, x := range how.Joins {
		var at []int
		for _, name := range x.Columns {
			if i := slices.Index(header, name); i >= 0 {
				at = append(at, i)
			}
		}
		if len(at) == len(x.Columns) {
			j.joins, j.at = append(j.joins, x), append(j.at, at)
		}
	}
	if len(j.joins)+len(j.fill) == 0 {
		return nil, nil
	}
	return j, nil
}

// filled is what stands in column k of those to fill, of a record with this in it.
func (j *joiner) filled(k int, cell []byte) []byte {
	switch text := bytes.TrimSpace(cell); {
	case len(text) == 0:
		return j.last[k]
	case string(text) != j.called[k]: // else a header further down
		j.last[k] = append(j.last[k][:0], text...)
	}
	return cell
}

// names are those of the joined columns.
func (j *joiner) names() (names []string) {
	for _, x := range j.joins {
		names = append(names, x.Name)
	}
	return names
}

// value joins the fields of a record; it is valid until the next call. Where the
// record repeats the header so does the value.
func (j *joiner) value(k int, field func(i int) []byte) []byte {
	x, isHeader := &j.joins[k], true
	j.parts = j.parts[:0]
	for n, i := range j.at[k] {
		p := bytes.TrimSpace(field(i))
		if s := string(p); IsMissing(TakenBack(s)) {
			p = nil
		}
		isHeader = isHeader && string(p) == x.Columns[n]
		j.parts = append(j.parts, p)
	}
	switch j.buf = j.buf[:0]; {
	case isHeader:
		j.buf = append(j.buf, x.Name...)
	case x.Tag:
		j.buf = tagcode.AppendJoined(j.buf, j.parts[0], j.parts[1])
	default:
		j.buf = clock.AppendParts(j.buf, j.parts)
	}
	return j.buf
}

// joinedRecords are records with the joined columns before the others.
type joinedRecords struct {
	records
	*joiner
	fields []string
}

func (r *joinedRecords) next() ([]string, int, error) {
	fields, line, err := r.records.next()
	if err != nil || blank(fields) {
		return fields, line, err
	}
	for k, i := range r.fill {
		if i < len(fields) {
			fields[i] = string(r.filled(k, []byte(fields[i])))
		}
	}
	r.fields = r.fields[:0]
	for k := range r.joins {
		r.fields = append(r.fields, string(r.value(k, func(i int) []byte {
			if i >= len(fields) {
				return nil
			}
			return []byte(fields[i])
		})))
	}
	r.fields = append(r.fields, fields...)
	return r.fields, line, nil
}

// joinColumns puts the columns that the study joins before those of the header.
func (t *Table) joinColumns() error {
	j, err := newJoiner(t.Header, &t.file.reading)
	if err != nil {
		return t.file.refuse(t.line, "%v", err)
	}
	if j != nil {
		t.Header = append(j.names(), t.Header...)
		t.records = &joinedRecords{records: t.records, joiner: j}
	}
	return nil
}

// join has blocks put the joined columns before the others. A line that cannot be
// taken apart stays so.
func (b *Blocks) join(j *joiner) {
	split := dialect.Splitter{Delimiter: b.Delimiter}
	b.joined = func(out, line []byte) []byte {
		split.Text = split.Text[:0]
		cut, fault, _ := split.Take(line) // up to a quote at fault, if there is one
		if fault == dialect.Sound && len(j.fill) > 0 {
			line = j.fillLine(cut, b.Delimiter)
			split.Text = split.Text[:0]
			cut, _, _ = split.Take(line)
		}
		for k := range j.joins {
			out = appendField(out, b.Delimiter, j.value(k, func(i int) []byte {
				if i >= cut.Count() {
					return nil
				}
				return cut.At(i)
			}))
			out = append(out, b.Delimiter)
		}
		return append(out, line...)
	}
	b.source.plain = false // a place in the blocks is none in the file
	for i := range b.held {
		b.held[i].Data = rewriteLines(b.held[i].Data, b.joined)
	}
}

// fillLine is a line with its empty cells filled.
func (j *joiner) fillLine(cut dialect.Fields, delimiter byte) (line []byte) {
	for i := range cut.Count() {
		if i > 0 {
			line = append(line, delimiter)
		}
		cell := cut.At(i)
		if k := slices.Index(j.fill, i); k >= 0 {
			cell = j.filled(k, cell)
		}
		line = appendField(line, delimiter, cell)
	}
	return line
}

// appendField appends a field to a line, in quotes where it holds the delimiter.
func appendField(out []byte, delimiter byte, field []byte) []byte {
	if !bytes.ContainsAny(field, "\"\r\n") && bytes.IndexByte(field, delimiter) < 0 {
		return append(out, field...)
	}
	out = append(out, '"')
	out = append(out, strings.NewReplacer(`"`, `""`, "\r", " ", "\n", " ").Replace(string(field))...)
	return append(out, '"')
}
