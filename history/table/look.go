package table

import (
	"bytes"
	"context"
	"errors"
	"io"
	"strings"

	"example.org/unseen/history/internal/dialect"
)

// Look is the start of a table before it is known how it is laid out.
type Look struct {
	// Sheet is that of a workbook, Sheets how many of them hold anything, and
	// Hidden tells one that the workbook does not show, where it shows others.
	Sheet  string
	Sheets int
	Hidden bool
	// Lines are those of a text, Rows those of a sheet.
	Lines []string
	Rows  [][]string
	// EightBit: a line is not UTF-8; then Raw is the text as it stands.
	EightBit bool
	Raw      []byte
}

// lookRows is how many rows of a sheet are looked at.
const lookRows = 300

// LookAt gives the start of a text, or of each sheet of a workbook that is not
// empty.
func LookAt(ctx context.Context, file File) ([]Look, error) {
	f, size, err := openFile(ctx, file.Path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s, err := newSource(ctx, file.Name, f, size, false, file.Reading)
	if err != nil {
		return nil, err
	}
	defer s.shut()
	if s.isSheet {
		return lookAtSheets(s)
	}
	start, err := s.peek()
	if err != nil && !errors.Is(err, io.EOF) && len(start) == 0 {
		return nil, s.refuse(1, "%v", s.explain(err))
	}
	if !errors.Is(err, io.EOF) {
		start = start[:bytes.LastIndexByte(start, '\n')+1]
	}
	x := Look{}
	text := dialect.UTF8Lines(start, func(int) { x.EightBit = true })
	if x.EightBit {
		x.Raw = start
	}
	for line := range strings.Lines(string(text)) {
		x.Lines = append(x.Lines, strings.TrimRight(line, "\r\n"))
	}
	return []Look{x}, nil
}

func lookAtSheets(s *source) (out []Look, err error) {
	book, err := openWorkbook(s.ctx, s.text)
	if err != nil {
		return nil, s.refuse(0, "the workbook cannot be opened: %v", err)
	}
	defer book.file.Close()
	names, shown := book.sheets()
	for k, name := range names {
		sheet, err := book.sheet(name)
		if err != nil {
			return nil, s.refuse(0, "the workbook cannot be opened: %v", err)
		}
		x := Look{Sheet: name, Hidden: k >= shown && len(out) > 0}
		filled := false
		for len(x.Rows) < lookRows {
			cells, _, err := sheet.next()
			if errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				return nil, s.refuse(0, "%v", err)
			}
			row := make([]string, len(cells))
			for i, c := range cells {
				row[i] = strings.TrimSpace(c)
			}
			filled = filled || !blank(row)
			x.Rows = append(x.Rows, row)
		}
		sheet.rows.Close()
		if filled {
			out = append(out, x)
		}
	}
	n := 0
	for i := range out {
		if !out[i].Hidden {
			n++
		}
	}
	for i := range out {
		out[i].Sheets = n
	}
	return out, nil
}
