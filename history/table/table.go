// Package table is the one reader of tables: text with a header, parted by
// commas, semicolons, tabs or bars, plain or compressed, or the first sheet of a
// workbook. It has one dialect, settled when a file is opened, and one rule for
// quotes, that of [Splitter].
//
// A table comes in three ways. [Table] gives it record by record and notes every
// fault with its line; with [ColumnMap], [Column], [Category] and [Times] its
// fields become typed columns. [Parts] gives a large one as several such tables,
// to be read at the same time. [Blocks] gives whole lines to readers that take
// them apart by themselves, as fast as that can be: with [Mark], or [Splitter]
// where there are quotes.
//
// Begin with [New]; ExampleNew shows it. Numbers keep the unit of the file. A
// field of a column that is not there is "", and what no constructor made is
// empty.
package table

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
)

// MaxFaults is the number of faults of a table that are told one by one; the
// others are counted.
const MaxFaults = 20

// Table is a table being read. A record that is at fault is noted and passed
// over, so that one reading finds them all; [Table.Err] must be looked at when
// [Table.Next] has returned false, and with it the table is refused.
type Table struct {
	// File is the name of the table in messages, Shown the one in notes and
	// results, which is the same wherever the study's folder stands.
	File, Shown string
	// Header are the names of the columns, without blanks at their ends; ""
	// for a column without a name, which is not read.
	Header []string
	// Delimiter parts the fields; 0 in a workbook.
	Delimiter rune
	// Findings are what its columns gave to notice, see [Table.FindNear].
	Findings []history.Finding
	// PassOver is asked whether a line with another number of fields than the
	// header's is to be passed over; where it is not it is a fault. nil: it is.
	PassOver func(fields []string, line int) bool

	records  records
	fields   []string
	line     int
	faults   history.Faults
	notes    []string  // behind the file's name
	eightBit bool      // a line was not UTF-8
	decimals []decimal // by column; nil while no number had a mark
	said     byte      // the decimal mark that the study gives, or 0
	empty    []int     // the lines without a value
	inside   int       // how many of them stand before a record

	file   *source // nil of a part
	sha256 string
	ended  bool
}

// tell lets the table know what the study says of it.
func (t *Table) tell(conf *study.Table) { t.Shown, t.said = conf.Written, conf.Decimal }

// Next reads the next record that is not blank; false after the last one or
// where reading must end. A record whose every field is empty is blank.
func (t *Table) Next() bool {
	if t.ended || t.records == nil {
		return false
	}
	for {
		fields, line, err := t.records.next()
		var re *recordError
		switch {
		case errors.Is(err, io.EOF):
			t.end()
			return false
		case errors.As(err, &re):
			t.faults.Add(history.Pos{File: t.File, Line: re.line, Column: re.column}, "%s", re.message)
			if re.fatal {
				t.end()
				return false
			}
			continue
		case err != nil:
			t.faults.Add(history.Pos{File: t.File, Line: line}, "%v", err)
			t.end()
			return false
		case blank(fields):
			t.empty = append(t.empty, line)
			continue
		case len(fields) > len(t.Header) && blank(fields[len(t.Header):]): // as spreadsheets write them
			fields = fields[:len(t.Header)]
		case len(fields) < len(t.Header) && blank(t.Header[len(fields):]):
			fields = append(slices.Clone(fields), make([]string, len(t.Header)-len(fields))...)
		case len(fields) != len(t.Header) && t.PassOver != nil && t.PassOver(fields, line):
			continue
		case len(fields) != len(t.Header):
			t.faults.Add(history.Pos{File: t.File, Line: line}, "%d fields where the header names %d columns%s", len(fields), len(t.Header), t.shortAdvice())
			continue
		}
		t.fields, t.line, t.inside = fields, line, len(t.empty)
		return true
	}
}

// shortAdvice says what to do about a line that could have been passed over.
func (t *Table) shortAdvice() string {
	if t.PassOver == nil {
		return ""
	}
	return "; put a fish's missing fields in, empty ones too"
}

// end reads what is left of the file's bytes, for their sum.
func (t *Table) end() {
	t.ended = true
	if t.file == nil || t.file.failed != nil {
		return
	}
	var err error
	if t.sha256, err = t.file.finish(); err != nil {
		t.faults.Add(history.Pos{File: t.File}, "%v", err)
	}
}

// Empty are the lines without a value that were passed over; in a workbook those
// before a record, for a sheet may hold any number of empty rows below.
func (t *Table) Empty() []int {
	if t.file != nil && t.file.isSheet {
		return t.empty[:t.inside]
	}
	return t.empty
}

// Column is the index of a column by its name in the header; -1 when there is
// none.
func (t *Table) Column(name string) int {
	if name == "" {
		return -1
	}
	return slices.Index(t.Header, name)
}

// Columns are the names in the header, without the nameless.
func (t *Table) Columns() []string {
	return slices.DeleteFunc(slices.Clone(t.Header), func(s string) bool { return s == "" })
}

// Line is the 1-based line on which the record starts; in a workbook the
// sheet's row.
func (t *Table) Line() int { return t.line }

// Pos is the place of the record, for messages.
func (t *Table) Pos() history.Pos { return history.Pos{File: t.File, Line: t.line} }

// Field is a field of the record, without blanks at its ends, and without the
// apostrophe of [Harmless].
func (t *Table) Field(column int) string {
	if t == nil || column < 0 || column >= len(t.fields) {
		return ""
	}
	return TakenBack(strings.TrimSpace(t.fields[column]))
}

// Missing tells whether a field is empty or NA.
func (t *Table) Missing(column int) bool { return IsMissing(t.Field(column)) }

// Number is the number in a field, a decimal comma being understood where
// fields are parted by semicolons or tabs, or the study says so. A field that holds none, a missing
// one among them, is noted as a fault.
func (t *Table) Number(column int) (float64, bool) {
	v, numeric, ok := t.number(column)
	if !ok {
		t.noNumber(column, numeric)
		return math.NaN(), false
	}
	return v, true
}

// Count is the whole number in a field, from least to most; another one, or
// none, is noted as a fault.
func (t *Table) Count(column, least, most int) (int, bool) {
	v, _, ok := t.number(column)
	if !ok || v != math.Trunc(v) || v < float64(least) || v > float64(most) {
		t.Fault(column, "%q is not a whole number from %d to %d", t.Field(column), least, most)
		return 0, false
	}
	return int(v), true
}

// number parses a field. Where it is not ok, numeric tells a number that is
// written unlike those before in its column from what is none.
func (t *Table) number(column int) (v float64, numeric, ok bool) {
	s := t.Field(column)
	mark := t.mark(s)
	if mark != 0 && t.said != 0 && mark != t.said {
		return math.NaN(), false, false
	}
	if mark == ',' {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, numeric = ParseNumber(s)
	switch {
	case !numeric:
		return math.NaN(), false, false
	case mark == 0:
		return v, true, true
	case t.decimals == nil:
		t.decimals = make([]decimal, len(t.Header))
	}
	switch d := &t.decimals[column]; d.mark {
	case mark:
	case 0:
		*d = decimal{mark, t.line}
	default:
		return math.NaN(), true, false
	}
	return v, true, true
}

// mark is the decimal mark of a field, 0 if it has none: a comma counts where
// it does not part fields.
func (t *Table) mark(field string) byte {
	if strings.Contains(field, ".") {
		return '.'
	}
	if (t.Delimiter != ',' && t.Delimiter != 0 || t.said == ',') && strings.Count(field, ",") == 1 {
		return ','
	}
	return 0
}

// noNumber notes why the field in a column is not taken as a number.
func (t *Table) noNumber(column int, numeric bool) {
	field := t.Field(column)
	if !numeric {
		t.Fault(column, "%q is not a number", field)
		return
	}
	t.Fault(column, "%q has a decimal %s, while line %d has a decimal %s; write all alike",
		field, markName(t.mark(field)), t.decimals[column].line, markName(t.decimals[column].mark))
}

func markName(c byte) string {
	if c == ',' {
		return "comma"
	}
	return "point"
}

// IsMissing tells whether a cell without blanks at its ends stands for nothing
// known: it is empty or NA.
func IsMissing(cell string) bool { return cell == "" || cell == "NA" }

// Site is the site of the river that a field names; -1, and a fault is noted,
// where it names none.
func (t *Table) Site(column int, r *history.River) int {
	name := t.Field(column)
	if r == nil {
		r = &history.River{}
	}
	k := r.SiteIndex(name)
	if k < 0 {
		t.Fault(column, "the study has no site %q%s", name, history.Propose(name, r.SiteNames()))
	}
	return k
}

// Cohort is the cohort in a field, which must not be missing; "all", the single
// cohort of a study without cohorts, for column -1.
func (t *Table) Cohort(column int) string {
	if column < 0 {
		return "all"
	}
	name := t.Field(column)
	if IsMissing(name) {
		t.Fault(column, "the cohort is missing")
		return ""
	}
	return name
}

// Fault notes that the record, or one of its fields, cannot be taken: column
// is its index, or -1 for the record as a whole.
func (t *Table) Fault(column int, format string, args ...any) {
	message := fmt.Sprintf(format, args...)
	if column >= 0 && column < len(t.Header) {
		message = fmt.Sprintf("column %q: %s", t.Header[column], message)
	}
	t.faults.Add(t.Pos(), "%s", message)
}

// FaultAt is [Table.Fault] for a line read before.
func (t *Table) FaultAt(line int, format string, args ...any) {
	t.faults.Add(history.Pos{File: t.File, Line: line}, format, args...)
}

// Err is nil when the table is sound, else a *[history.Faults].
func (t *Table) Err() error {
	if t.file != nil && t.file.ctx.Err() != nil {
		return t.file.ctx.Err()
	}
	return t.faults.Err()
}

// Note adds to the notes what its reader settled about the table.
func (t *Table) Note(format string, args ...any) {
	t.notes = append(t.notes, ": "+fmt.Sprintf(format, args...))
}

// noteEightBit notes that a line is not UTF-8, the first time.
func (t *Table) noteEightBit(line int) {
	if !t.eightBit {
		t.eightBit = true
		t.notes = append(t.notes, fmt.Sprintf(":%d: not UTF-8; such lines are read as Windows-1252", line))
	}
}

// Notes are what was settled about the file that its reader should know.
func (t *Table) Notes() []string {
	var notes []string
	for _, n := range t.notes {
		notes = append(notes, t.Shown+n)
	}
	if sign := dialect.DelimiterNames[byte(t.Delimiter)]; sign != "" {
		s := t.Shown + ": fields parted by " + sign
		if slices.ContainsFunc(t.decimals, func(d decimal) bool { return d.mark == ',' }) {
			s += ", decimal comma"
		}
		notes = append(notes, s)
	}
	return notes
}

// Input names the file and the sum in hex of its own bytes, compressed where it
// is compressed; call it when Next has returned false.
func (t *Table) Input() history.Input {
	return history.Input{File: t.Shown, SHA256: t.sha256}
}

// Close releases the file.
func (t *Table) Close() error { return t.file.shut() }
