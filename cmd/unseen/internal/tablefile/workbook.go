package tablefile

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/history/table"
)

// What a sheet can hold.
const (
	maxRows  = excelize.TotalRows - 1 // below the header
	maxChars = excelize.TotalCellChars
)

// Workbook takes each table as a sheet. Numbers and moments are such in it: numbers
// with the 15 digits that spreadsheets keep, moments in UTC. All else is text, never
// a formula.
type Workbook struct {
	file          *excelize.File
	first         bool // no sheet has been begun
	header, times int  // styles
}

// NewWorkbook keeps what does not fit into memory under dir until it is closed.
func NewWorkbook(dir string) (*Workbook, error) {
	b := &Workbook{file: excelize.NewFile(excelize.Options{TmpDir: dir}), first: true}
	var err1, err2 error
	b.header, err1 = b.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	shown := `yyyy-mm-dd hh:mm:ss"Z"`
	b.times, err2 = b.file.NewStyle(&excelize.Style{CustomNumFmt: &shown})
	return b, errors.Join(err1, err2)
}

// Close gives back what the workbook took.
func (b *Workbook) Close() error { return b.file.Close() }

// Begin implements [Files].
func (b *Workbook) Begin(id string, columns []string) (Rows, error) {
	if b.first {
		b.first = false
		if err := b.file.SetSheetName("Sheet1", id); err != nil {
			return nil, err
		}
	} else if _, err := b.file.NewSheet(id); err != nil {
		return nil, err
	}
	w, err := b.file.NewStreamWriter(id)
	if err != nil {
		return nil, err
	}
	s := &sheet{book: b, w: w, id: id}
	err = w.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft",
		Selection: []excelize.Selection{{SQRef: "A2", ActiveCell: "A2", Pane: "bottomLeft"}}})
	if err != nil {
		return nil, err
	}
	cells := make([]any, len(columns))
	for i, c := range columns {
		if cells[i], err = s.text(c); err != nil {
			return nil, err
		}
	}
	for i, c := range slices.Backward(columns) { // the library puts each before those it has
		if err := w.SetColWidth(i+1, i+1, float64(min(max(utf8.RuneCountInString(c)+2, 12), 60))); err != nil {
			return nil, err
		}
	}
	return s, w.SetRow("A1", cells, excelize.RowOpts{StyleID: b.header})
}

// Last puts a table behind all others.
func (b *Workbook) Last(id string) error {
	names := b.file.GetSheetList()
	last := names[len(names)-1]
	if last == id {
		return nil
	}
	// Sheets are moved before others: first before the last one, then that before it.
	return errors.Join(b.file.MoveSheet(id, last), b.file.MoveSheet(last, id))
}

// WriteTo writes the workbook, the same tables as the same bytes.
func (b *Workbook) Write(w io.Writer) error {
	b.file.SetActiveSheet(0)
	packed, err := b.file.WriteToBuffer()
	if err != nil {
		return err
	}
	// The library packs its sheets in whatever order.
	r, err := zip.NewReader(bytes.NewReader(packed.Bytes()), int64(packed.Len()))
	if err != nil {
		return err
	}
	slices.SortFunc(r.File, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	out := zip.NewWriter(w)
	for _, f := range r.File {
		if err := out.Copy(f); err != nil {
			return err
		}
	}
	return out.Close()
}

type sheet struct {
	book  *Workbook
	w     *excelize.StreamWriter
	id    string
	rows  int
	cells []any
}

func (s *sheet) Add(row []Value) error {
	if s.rows++; s.rows > maxRows {
		return fmt.Errorf("the table %s has more than the %d rows that a sheet of a workbook holds; write it with --csv DIR", s.id, maxRows)
	}
	s.cells = s.cells[:0]
	for _, v := range row {
		var cell any
		switch {
		case v.Kind == Moment:
			cell = excelize.Cell{StyleID: s.book.times, Value: v.Time.UTC()}
		case v.Kind == Number && !math.IsNaN(v.Number) && !math.IsInf(v.Number, 0):
			cell = rounded(v.Number)
		case v.Kind == Number && math.IsNaN(v.Number):
		case v.Kind == Number:
			cell = digits(v.Number)
		default:
			var err error
			if cell, err = s.text(v.Text); err != nil {
				return err
			}
		}
		s.cells = append(s.cells, cell)
	}
	return s.w.SetRow(fmt.Sprintf("A%d", s.rows+1), s.cells)
}

// rounded is x to the digits of a spreadsheet; the library would cut off more.
func rounded(x float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	if err != nil {
		return x // the largest numbers of all, up from which it would round to none
	}
	return r
}

// text is a cell of words; nil where there are none.
func (s *sheet) text(words string) (any, error) {
	if words == "" {
		return nil, nil
	}
	words = harmless.Escape(table.Harmless(strings.ToValidUTF8(words, "\ufffd")))
	if len(words) > maxChars && len(utf16.Encode([]rune(words))) > maxChars {
		return nil, fmt.Errorf("the table %s has a text longer than the %d characters that a cell of a workbook holds; write it with --csv DIR", s.id, maxChars)
	}
	return words, nil
}

func (s *sheet) End() error { return s.w.Flush() }
