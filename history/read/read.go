// Package read reads the small and middle-sized tables of a study (fish,
// histories, next-seen counts, conditions, recaptures) record by record: text
// with a header, parted by commas, semicolons, bars or tabs, plain or compressed, or
// the first sheet of a workbook.
package read

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"example.org/unseen/history"
)

// MaxFaults is the number of faults of a table that are told one by one; the
// others are counted.
const MaxFaults = 20

// MaxRecord is the longest record in bytes.
const MaxRecord = 1 << 20

// Table is a table being read. A record that is at fault is noted and passed
// over, so that one reading finds them all; [Table.Err] must be looked at when
// [Table.Next] has returned false, and with it the table is refused.
type Table struct {
	// File is the name of the table in messages.
	File string
	// Header are the names of the columns, without blanks at their ends; ""
	// for a column without a name, which is not read.
	Header []string
	// Delimiter parts the fields: ',', ';', '|' or tab; 0 in a workbook.
	Delimiter rune
	// Sheet is the name of the workbook's first sheet, or "".
	Sheet string

	ctx         context.Context // nil: of [Parts], which take care themselves
	source      source
	fields      []string
	line        int
	faults      history.Faults
	notes       []string
	decimal     byte // ',' or '.' once a number with one was met
	decimalLine int

	raw    *bufio.Reader // the file's own bytes
	sum    hash.Hash
	sha256 string
	ended  bool
	isPart bool // of [Parts]
	closer []func() error
}

// source gives the records of a table, blank ones among them.
type source interface {
	// next returns the fields, valid until the next call, and the 1-based
	// line (or sheet row) the record starts on; io.EOF after the last, a
	// *recordError for a record that cannot be taken apart.
	next() (fields []string, line int, err error)
}

// recordError is a fault of one record; a fatal one ends the reading.
type recordError struct {
	line, column int
	message      string
	fatal        bool
}

func (e *recordError) Error() string { return e.message }

// Open opens the table at path and reads its header. Close it after use.
func Open(path string) (*Table, error) { return OpenContext(context.Background(), path) }

// opened makes a table of an opened file.
func opened(ctx context.Context, path string, f *os.File, err error) (*Table, error) {
	if err != nil {
		return nil, fmt.Errorf("the table cannot be read: %w", err)
	}
	if st, err := f.Stat(); err == nil && st.IsDir() {
		f.Close()
		return nil, fmt.Errorf("%s is a folder; name a file", path)
	}
	t, err := newTable(ctx, path, Until(ctx, f))
	if err != nil {
		f.Close()
		return nil, err
	}
	t.closer = append(t.closer, f.Close)
	return t, nil
}

// New reads a table from r; name stands in messages. What r holds is told by
// its first bytes, not by the name. r is not closed.
func New(name string, r io.Reader) (*Table, error) {
	return newTable(context.Background(), name, r)
}

func newTable(ctx context.Context, name string, r io.Reader) (*Table, error) {
	t := &Table{ctx: ctx, File: name, sum: sha256.New(), faults: history.Faults{Keep: MaxFaults}}
	t.raw = bufio.NewReaderSize(io.TeeReader(r, t.sum), 1<<16)
	if err := t.open(); err != nil {
		t.Close()
		return nil, cmp.Or(ctx.Err(), err)
	}
	return t, nil
}

func (t *Table) open() error {
	magic, err := t.raw.Peek(4)
	if err != nil && !errors.Is(err, io.EOF) {
		return t.refuse(0, "%v", err)
	}
	var text io.Reader = t.raw
	switch {
	case bytes.HasPrefix(magic, []byte("\x1f\x8b")):
		z, err := gzip.NewReader(t.raw)
		if err != nil {
			return t.refuse(0, "the compressed file cannot be opened: %v", err)
		}
		t.closer = append(t.closer, z.Close)
		text = z
	case bytes.Equal(magic, []byte("\x28\xb5\x2f\xfd")):
		if start, _ := t.raw.Peek(5); Unsummed(start) {
			t.Note("compressed without a checksum, so damage cannot be noticed; compress it again with one")
		}
		z, err := zstd.NewReader(t.raw, zstd.WithDecoderConcurrency(1))
		if err != nil {
			return t.refuse(0, "the compressed file cannot be opened: %v", err)
		}
		t.closer = append(t.closer, func() error { z.Close(); return nil })
		text = z
	case bytes.Equal(magic, []byte("PK\x03\x04")):
		s, err := openSheet(t.ctx, t.raw)
		if err != nil {
			return t.refuse(0, "the workbook cannot be opened: %v", err)
		}
		t.source, t.Sheet = s, s.name
		t.closer = append(t.closer, s.close)
	case bytes.Equal(magic, []byte("\xd0\xcf\x11\xe0")):
		return t.refuse(0, "this is a workbook of the old kind (.xls); save it as .xlsx or as CSV")
	}
	if t.source == nil {
		s, err := openText(t, Until(t.ctx, text))
		if err != nil {
			return err
		}
		t.source = s
	}
	return t.header()
}

// Unsummed tells by its first five bytes whether a Zstandard file carries no
// checksum of what was compressed (RFC 8878, 3.1.1.1.1: bit 2 of the frame
// header descriptor).
func Unsummed(start []byte) bool { return len(start) >= 5 && start[4]&4 == 0 }

// refuse is a fault that stands alone.
func (t *Table) refuse(line int, format string, args ...any) error {
	var f history.Faults
	f.Add(history.Pos{File: t.File, Line: line}, format, args...)
	return f.Err()
}

func (t *Table) header() error {
	for {
		fields, line, err := t.source.next()
		if errors.Is(err, io.EOF) {
			return t.refuse(1, "the table is empty; its first line must name the columns")
		}
		var re *recordError
		if errors.As(err, &re) {
			return t.refuse(re.line, "%s", re.message)
		}
		if err != nil {
			return t.refuse(line, "%s", readError(err))
		}
		if blank(fields) {
			continue
		}
		t.line = line
		for _, f := range fields {
			t.Header = append(t.Header, TakenBack(strings.TrimSpace(f)))
		}
		break
	}
	var nameless []string
	first := make(map[string]int, len(t.Header))
	for i, name := range t.Header {
		if name == "" {
			nameless = append(nameless, fmt.Sprint(i+1))
			continue
		}
		if k, twice := first[name]; twice {
			return t.refuse(t.line, "column %q stands twice in the header, as column %d and %d", name, k+1, i+1)
		}
		first[name] = i
	}
	if len(nameless) > 0 {
		t.Note("column %s has no name and is not read", strings.Join(nameless, ", "))
	}
	return nil
}

// readError says in words what ended the reading.
func readError(err error) string {
	if errors.Is(err, io.ErrUnexpectedEOF) {
		return "the compressed file ends too early; it is cut off, get a complete copy"
	}
	return fmt.Sprintf("the table cannot be read any farther: %v", err)
}

func blank(fields []string) bool {
	for _, f := range fields {
		if strings.TrimSpace(f) != "" {
			return false
		}
	}
	return true
}

// Next reads the next record that is not blank; false after the last one or
// where reading must end. A record whose every field is empty is blank.
func (t *Table) Next() bool {
	if t.ended {
		return false
	}
	for {
		fields, line, err := t.source.next()
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
			t.faults.Add(history.Pos{File: t.File, Line: line}, "%s", readError(err))
			t.end()
			return false
		case blank(fields):
			continue
		case len(fields) != len(t.Header):
			t.faults.Add(history.Pos{File: t.File, Line: line}, "%d fields where the header names %d columns", len(fields), len(t.Header))
			continue
		}
		t.fields, t.line = fields, line
		return true
	}
}

// end reads what is left of the file's bytes, for their sum.
func (t *Table) end() {
	t.ended = true
	if t.isPart {
		return
	}
	if _, err := io.Copy(io.Discard, t.raw); err != nil {
		t.faults.Add(history.Pos{File: t.File}, "%s", readError(err))
	}
	t.sha256 = hex.EncodeToString(t.sum.Sum(nil))
}

// SHA256 is the sum in hex of the file's own bytes, compressed where it is
// compressed; "" until Next has returned false, and of a part.
func (t *Table) SHA256() string { return t.sha256 }

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
func (t *Table) Field(column int) string { return TakenBack(strings.TrimSpace(t.fields[column])) }

// Missing tells whether a field is empty or NA.
func (t *Table) Missing(column int) bool { return IsMissing(t.Field(column)) }

// IsMissing tells whether a cell without blanks at its ends stands for nothing
// known: it is empty or NA.
func IsMissing(cell string) bool { return cell == "" || cell == "NA" }

// Fault notes that the record, or one of its fields, cannot be taken: column
// is its index, or -1 for the record as a whole.
func (t *Table) Fault(column int, format string, args ...any) {
	message := fmt.Sprintf(format, args...)
	if column >= 0 {
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
	if t.ctx != nil && t.ctx.Err() != nil {
		return t.ctx.Err()
	}
	return t.faults.Err()
}

// Note adds to the notes what its reader settled about the table.
func (t *Table) Note(format string, args ...any) {
	t.notes = append(t.notes, t.File+": "+fmt.Sprintf(format, args...))
}

// Notes are what was settled about the file, called name, that its reader
// should know.
func (t *Table) Notes(name string) []string {
	var notes []string
	for _, n := range t.notes {
		notes = append(notes, name+strings.TrimPrefix(n, t.File))
	}
	if sign := map[rune]string{';': "semicolons", '\t': "tabs", '|': "bars"}[t.Delimiter]; sign != "" {
		s := name + ": fields parted by " + sign
		if t.decimal == ',' {
			s += ", decimal comma"
		}
		notes = append(notes, s)
	}
	return notes
}

// Input names the file and its sum; call it when Next has returned false.
func (t *Table) Input(name string) history.Input {
	return history.Input{File: name, SHA256: t.sha256}
}

// Close releases the file.
func (t *Table) Close() error {
	var errs []error
	for i := len(t.closer) - 1; i >= 0; i-- {
		errs = append(errs, t.closer[i]())
	}
	t.closer = nil
	return errors.Join(errs...)
}
