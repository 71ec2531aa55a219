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

// Limits of what a workbook may unpack to, against archives made to burst.
const (
	maxUnpacked = 1 << 30
	maxPacked   = 1 << 28
)

// sheetRecords reads the first sheet of a workbook: the stored values, not what
// the cells' formats make of them, so dates are serial numbers.
type sheetRecords struct {
	ctx   context.Context
	file  *excelize.File
	rows  *excelize.Rows
	row   int
	width int // of the header
}

func openSheet(ctx context.Context, r io.Reader) (*sheetRecords, error) {
	packed, err := io.ReadAll(io.LimitReader(r, maxPacked))
	if err != nil {
		return nil, err
	}
	if err := wholeWorkbook(ctx, packed); err != nil {
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
	names := f.GetSheetList()
	if len(names) == 0 {
		return nil, errors.Join(errors.New("it has no sheet"), f.Close())
	}
	rows, err := f.Rows(names[0])
	if err != nil {
		return nil, errors.Join(fmt.Errorf("sheet %q: %w", names[0], err), f.Close())
	}
	return &sheetRecords{ctx: ctx, file: f, rows: rows}, nil
}

func (s *sheetRecords) next() ([]string, int, error) {
	if !s.rows.Next() {
		if err := s.rows.Error(); err != nil {
			return nil, s.row + 1, err
		}
		return nil, s.row, io.EOF
	}
	s.row++
	cells, err := s.columns()
	if err != nil {
		return nil, s.row, err
	}
	if s.width == 0 {
		if !blank(cells) {
			for len(cells) > 0 && cells[len(cells)-1] == "" {
				cells = cells[:len(cells)-1]
			}
			s.width = len(cells)
		}
		return cells, s.row, nil
	}
	// A sheet stores no empty cells at a row's end, and may store some beyond.
	for len(cells) > s.width && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if n := s.width - len(cells); n > 0 {
		cells = append(cells, slices.Repeat([]string{""}, n)...)
	}
	return cells, s.row, nil
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

func (s *sheetRecords) close() error { return errors.Join(s.rows.Close(), s.file.Close()) }
