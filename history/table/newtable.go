package table

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// OpenFor opens a table that a study names and reads its header. It is read
// until ctx ends; [Table.Err] is then the context's error. Close it after use.
// Of a workbook it is the sheet that the study names, else the first with the
// columns that are needed, by our names, and those that the study maps.
func OpenFor(ctx context.Context, conf *study.Table, needed ...string) (*Table, error) {
	if conf == nil {
		return nil, errors.New("the study names no such table")
	}
	t, err := open(ctx, conf.File, conf.Reading, func(header []string) bool { return hasAll(header, conf, needed) })
	if err == nil {
		t.tell(conf)
	}
	return t, err
}

// hasAll tells whether a header has the columns needed and those that the study
// maps.
func hasAll(header []string, conf *study.Table, needed []string) bool {
	for _, ours := range needed {
		if !slices.Contains(header, conf.Column(ours)) {
			return false
		}
	}
	for _, name := range conf.Columns {
		if !slices.Contains(header, name) {
			return false
		}
	}
	return true
}

// Open opens the table at path and reads its header. Close it after use.
func Open(path string) (*Table, error) {
	return open(context.Background(), path, study.Reading{}, nil)
}

func open(ctx context.Context, path string, how study.Reading, wants func([]string) bool) (*Table, error) {
	f, size, err := openFile(ctx, path)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, fmt.Errorf("the table cannot be read: %w", err)
	}
	t, err := readFrom(ctx, path, f, size, how, wants)
	if err != nil {
		f.Close()
		return nil, err
	}
	t.file.close = append([]func() error{f.Close}, t.file.close...)
	return t, nil
}

// New reads a table from r; name stands in messages. What r holds is told by
// its first bytes, not by the name. r is not closed.
func New(name string, r io.Reader) (*Table, error) {
	if r == nil {
		return nil, fmt.Errorf("%s: there is nothing to read", name)
	}
	return readFrom(context.Background(), name, r, -1, study.Reading{}, nil)
}

func readFrom(ctx context.Context, name string, r io.Reader, size int64, how study.Reading, wants func([]string) bool) (*Table, error) {
	s, err := newSource(ctx, name, r, size, true, how)
	if err != nil {
		return nil, err
	}
	s.wants = wants
	t, err := newTable(s)
	if err != nil {
		s.shut()
	}
	return t, err
}

// newTable reads the header of a table.
func newTable(s *source) (*Table, error) {
	t, err := startTable(s)
	if err == nil {
		err = t.checkHeader()
	}
	return t, err
}

// startTable reads the names in the header.
func startTable(s *source) (*Table, error) {
	t := &Table{File: s.name, Shown: s.name, file: s, faults: history.Faults{Keep: MaxFaults}}
	if s.isSheet {
		if err := t.openSheets(); err != nil {
			return nil, err
		}
	} else {
		t.Delimiter = rune(s.delimiter)
		t.records = newTextRecords(blocksOf(s), t.noteEightBit)
		if err := t.header(); err != nil {
			return nil, err
		}
		if err := t.joinColumns(); err != nil {
			return nil, err
		}
	}
	if s.unsummed {
		t.Note("compressed without a checksum, so damage cannot be noticed; compress it again with one")
	}
	return t, nil
}

// checkHeader refuses a name that stands twice.
func (t *Table) checkHeader() error {
	var nameless []string
	first := make(map[string]int, len(t.Header))
	for i, name := range t.Header {
		if name == "" {
			nameless = append(nameless, fmt.Sprint(i+1))
			continue
		}
		if k, twice := first[name]; twice {
			return t.file.refuse(t.line, "column %q stands twice in the header, as column %d and %d", name, k+1, i+1)
		}
		first[name] = i
	}
	if len(nameless) > 0 {
		t.Note("column %s has no name and is not read", strings.Join(nameless, ", "))
	}
	return nil
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

// openSheets opens the sheet that the study names, or the first with a header
// that is wanted; the very first where there is none.
func (t *Table) openSheets() error {
	s := t.file
	book, err := openWorkbook(s.ctx, s.text)
	if err != nil {
		return s.refuse(0, "the workbook cannot be opened: %v", err)
	}
	s.close = append(s.close, book.file.Close)
	names, shown := book.sheets()
	if name := s.reading.Sheet; name != "" {
		if !slices.Contains(names, name) {
			return s.refuse(0, "the workbook has no sheet %q; it has %s%s", name, strings.Join(names, ", "), history.Propose(name, names))
		}
		names = []string{name}
	} else if shown > 0 {
		names = names[:shown]
	}
	if s.wants != nil {
		for _, name := range names[:len(names)-1] {
			if err := t.openSheet(book, name); s.ctx.Err() != nil {
				return err
			} else if err == nil && s.wants(t.Header) {
				return nil
			}
		}
		// The last is taken where it fits.
		if err := t.openSheet(book, names[len(names)-1]); len(names) == 1 || err == nil && s.wants(t.Header) {
			return err
		}
	}
	return t.openSheet(book, names[0])
}

// openSheet starts to read a sheet and reads its header.
func (t *Table) openSheet(book *workbook, name string) error {
	sheet, err := book.sheet(name)
	if err != nil {
		return t.file.refuse(0, "the workbook cannot be opened: %v", err)
	}
	t.file.close = append(t.file.close, sheet.rows.Close)
	t.records, t.Header = sheet, nil
	if t.file.reading.NoHeader() {
		if t.file.columns, err = sheet.lookAhead(); err != nil {
			return t.file.refuse(0, "%v", err)
		}
	}
	if err := t.header(); err != nil {
		return err
	}
	if err := tooWide(t.Header); err != nil {
		return t.file.refuse(t.line, "sheet %q: %v", name, err)
	}
	sheet.width = len(t.Header)
	return t.joinColumns()
}
