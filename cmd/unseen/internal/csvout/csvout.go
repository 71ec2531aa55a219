// Package csvout writes the tables of a page as CSV files, in full precision.
package csvout

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/table"
)

// Add writes each table of the page to the set, as its ID with ".csv".
func Add(set *atomicfile.Set, p view.Page) error {
	for _, sec := range p.Sections {
		for _, t := range sec.Tables {
			if t.ID == "" {
				continue
			}
			w, err := set.Create(t.ID + ".csv")
			if err != nil {
				return err
			}
			if err := Table(w, t); err != nil {
				return err
			}
		}
	}
	return nil
}

// Table writes one table. A [view.Range] column x becomes x, x_low and x_high;
// numbers that do not exist are empty, and
// texts that a spreadsheet would run as a formula are made harmless.
func Table(w io.Writer, t view.Table) error {
	c := csv.NewWriter(w)
	var rec []string
	for _, col := range t.Columns {
		if col.Name == "" {
			continue
		}
		rec = append(rec, table.Harmless(col.Name))
		if col.Kind == view.Range {
			rec = append(rec, col.Name+"_low", col.Name+"_high")
		}
	}
	if err := c.Write(rec); err != nil {
		return err
	}
	for _, row := range t.Rows {
		rec = rec[:0]
		for i, col := range t.Columns {
			switch x := row[i]; {
			case col.Name == "":
			case col.Kind == view.Text:
				rec = append(rec, table.Harmless(x.Text))
			case col.Kind == view.Range:
				rec = append(rec, number(x.Value), number(x.Low), number(x.High))
			default:
				rec = append(rec, number(x.Value))
			}
		}
		if err := c.Write(rec); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func number(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	if x == math.Trunc(x) && math.Abs(x) < 1e15 {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}
