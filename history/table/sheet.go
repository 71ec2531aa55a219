package table

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/xuri/excelize/v2"
)

// workbook is one being read.
type workbook struct {
	ctx  context.Context
	file *excelize.File
	said map[string]*sheetPart // by sheet
}

// sheetRecords reads a sheet of a workbook: the stored values, not what the
// cells' formats make of them, so dates are serial numbers.
type sheetRecords struct {
	ctx   context.Context
	rows  *excelize.Rows
	row   int
	width int        // of the header; 0 while that is read
	ahead [][]string // rows read already

	// merged are the cells that go down over several rows, the upper ones first,
	// and over those that a row stands in, with their value.
	merged []mergedCell
	over   []mergedCell
}

func openWorkbook(ctx context.Context, r io.Reader) (*workbook, error) {
	packed, err := io.ReadAll(io.LimitReader(r, maxPacked))
	if err != nil {
		return nil, err
	}
	said, err := wholeWorkbook(ctx, packed)
	if errors.Is(err, errFrom1904) {
		return nil, err
	}
	if err != nil {
		return nil, fmt.Errorf("%w; get a complete copy", err)
	}
	var f *excelize.File
	err = apart(ctx, func() (err error) {
		// All in memory, so that no end leaves an unpacked sheet behind.
		f, err = excelize.OpenReader(bytes.NewReader(packed), excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnpacked, UnzipXMLSizeLimit: maxUnpacked})
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(f.GetSheetList()) == 0 {
		return nil, errors.Join(errors.New("it has no sheet"), f.Close())
	}
	return &workbook{ctx, f, said}, nil
}

// sheets are the names of the sheets, those that are shown first: what is hidden
// is an older copy, or a list, more often than data. shown counts them.
func (w *workbook) sheets() (names []string, shown int) {
	var hidden []string
	for _, name := range w.file.GetSheetList() {
		if visible, err := w.file.GetSheetVisible(name); err == nil && !visible {
			hidden = append(hidden, name)
		} else {
			names = append(names, name)
		}
	}
	return append(names, hidden...), len(names)
}

// sheet starts to read a sheet.
func (w *workbook) sheet(name string) (*sheetRecords, error) {
	said := w.said[name]
	if said == nil {
		said = &sheetPart{}
	}
	if said.unsolved != "" {
		return nil, fmt.Errorf("sheet %q: cell %s has a formula whose value was never worked out; open the workbook in a spreadsheet and save it", name, said.unsolved)
	}
	rows, err := w.file.Rows(name)
	if err != nil {
		return nil, fmt.Errorf("sheet %q: %w", name, err)
	}
	return &sheetRecords{ctx: w.ctx, rows: rows, merged: said.merged}, nil
}

// lookAhead is the width of the widest of the first rows.
func (s *sheetRecords) lookAhead() (width int, err error) {
	const rows = 100
	for len(s.ahead) < rows {
		cells, err := s.stored()
		if errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return 0, err
		}
		s.ahead = append(s.ahead, slices.Clone(cells))
		width = max(width, len(cells))
	}
	s.row -= len(s.ahead)
	return width, nil
}

func (s *sheetRecords) next() ([]string, int, error) {
	var cells []string
	if s.width > 0 && len(s.ahead) > 0 {
		s.row++
		cells, s.ahead = s.ahead[0], s.ahead[1:]
	} else {
		var err error
		if cells, err = s.stored(); err != nil {
			return nil, s.row, err
		}
	}
	if n := s.width - len(cells); n > 0 {
		cells = append(cells, slices.Repeat([]string{""}, n)...)
	}
	s.fillMerged(cells)
	return cells, s.row, nil
}

// stored are the cells of the next row as the sheet has them, without empty ones
// beyond the header: it stores none at a row's end, or some.
func (s *sheetRecords) stored() ([]string, error) {
	more := s.rows.Next()
	if !more && s.rows.Error() == nil {
		return nil, io.EOF
	}
	if s.row++; !more {
		return nil, s.rows.Error()
	}
	cells, err := s.columns()
	for len(cells) > s.width && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if err == nil && s.width > 0 {
		err = tooWide(cells)
	}
	return cells, err
}

// mostColumns is how many columns a sheet may have: a cell that strayed to its
// right end would make each row thousands of cells wide.
const mostColumns = 2000

func tooWide(row []string) error {
	if len(row) <= mostColumns {
		return nil
	}
	at, err := excelize.ColumnNumberToName(len(row))
	return errors.Join(err, fmt.Errorf("a row reaches to column %s, and a table has %d columns at most; delete what stands far to the right", at, mostColumns))
}

// fillMerged gives a row the values of cells that go down over it: a sheet
// stores them in the uppermost row alone. Those that begin in the header are
// names, and those beyond it in no column.
func (s *sheetRecords) fillMerged(cells []string) {
	s.over = slices.DeleteFunc(s.over, func(m mergedCell) bool { return m.to < s.row })
	for len(s.merged) > 0 && s.merged[0].from <= s.row {
		m := s.merged[0]
		s.merged = s.merged[1:]
		if m.from == s.row && m.column < s.width && !slices.ContainsFunc(s.over, func(o mergedCell) bool { return o.column == m.column }) {
			m.value = cells[m.column]
			s.over = append(s.over, m)
		}
	}
	for _, m := range s.over {
		if cells[m.column] == "" {
			cells[m.column] = m.value
		}
	}
}

// columns are the cells of a row. The first has all strings of the workbook read.
func (s *sheetRecords) columns() (cells []string, err error) {
	if s.row > 1 {
		if err := s.ctx.Err(); err != nil {
			return nil, err
		}
		return s.rows.Columns()
	}
	err = apart(s.ctx, func() (err error) {
		cells, err = s.rows.Columns()
		return err
	})
	return cells, err
}
