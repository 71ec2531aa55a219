package tablefile

import (
	"encoding/csv"
	"io"
	"strings"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/history/table"
)

// CSV writes each table to Set, as its ID with ".csv". Numbers that do not exist
// are empty, and texts that a spreadsheet would run as a formula are made harmless.
type CSV struct {
	Set *atomicfile.Set
	// Comma is the manner of places where numbers have a decimal comma:
	// semicolons part the fields, and the file begins with the mark by which
	// spreadsheets there know UTF-8.
	Comma bool
}

// Begin implements [Files].
func (f CSV) Begin(id string, columns []string) (Rows, error) {
	w, err := f.Set.Create(id + ".csv")
	if err != nil {
		return nil, err
	}
	return CSVRows(w, columns, f.Comma)
}

// CSVRows are those of one CSV file.
func CSVRows(w io.Writer, columns []string, comma bool) (Rows, error) {
	out := csvRows{csv.NewWriter(w), comma}
	if comma {
		out.w.Comma = ';'
		if _, err := io.WriteString(w, "\xef\xbb\xbf"); err != nil {
			return nil, err
		}
	}
	header := make([]string, len(columns))
	for i, c := range columns {
		header[i] = table.Harmless(c)
	}
	return out, out.w.Write(header)
}

type csvRows struct {
	w     *csv.Writer
	comma bool
}

func (r csvRows) Add(row []Value) error {
	record := make([]string, len(row))
	for i, v := range row {
		switch {
		case v.Kind == Text:
			record[i] = table.Harmless(v.Text)
		case v.Text != "":
			record[i] = v.Text
		default:
			record[i] = digits(v.Number)
		}
		if r.comma && v.Kind == Number {
			record[i] = strings.Replace(record[i], ".", ",", 1)
		}
	}
	return r.w.Write(record)
}

func (r csvRows) End() error {
	r.w.Flush()
	return r.w.Error()
}
