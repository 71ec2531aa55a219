// Package tablefile writes tables, those of a page and others, in full precision:
// each as a CSV file, or as a sheet of one workbook.
package tablefile

import (
	"math"
	"strconv"
	"time"

	"example.org/unseen/cmd/unseen/internal/view"
)

// Files take tables, one after the other or several at once.
type Files interface {
	// Begin starts a table. Its ID names it, its columns are its header.
	Begin(id string, columns []string) (Rows, error)
}

// Rows are those of a table.
type Rows interface {
	Add(row []Value) error
	// End is called when there are no more.
	End() error
}

// Value is a cell: a text, or where Kind says so a number (NaN: none) or a moment.
type Value struct {
	Kind   Kind
	Text   string
	Number float64
	Time   time.Time
}

// Kind is that of a [Value].
type Kind uint8

// The kinds of values.
const (
	Text Kind = iota
	Number
	Moment
)

// T is a text.
func T(s string) Value { return Value{Text: s} }

// N is a number.
func N(x float64) Value { return Value{Kind: Number, Number: x} }

// Add writes the tables of the page. A [view.Range] column x becomes x, x_low and
// x_high.
func Add(to Files, p view.Page) error {
	for _, sec := range p.Sections {
		for _, t := range sec.Tables {
			if t.ID == "" {
				continue
			}
			if err := addTable(to, t); err != nil {
				return err
			}
		}
	}
	return nil
}

func addTable(to Files, t view.Table) error {
	var names []string
	for _, col := range t.Columns {
		if col.Name == "" {
			continue
		}
		names = append(names, col.Name)
		if col.Kind == view.Range {
			names = append(names, col.Name+"_low", col.Name+"_high")
		}
	}
	rows, err := to.Begin(t.ID, names)
	if err != nil {
		return err
	}
	var values []Value
	for _, row := range t.Rows {
		values = values[:0]
		for i, col := range t.Columns {
			switch x := row[i]; {
			case col.Name == "":
			case col.Kind == view.Text:
				values = append(values, held(x.Text, col.Holds))
			case col.Kind == view.Range:
				values = append(values, N(x.Value), N(x.Low), N(x.High))
			default:
				values = append(values, N(x.Value))
			}
		}
		if err := rows.Add(values); err != nil {
			return err
		}
	}
	return rows.End()
}

// held is a cell of words by what they stand for.
func held(text string, holds view.Holds) Value {
	switch holds {
	case view.Numbers:
		if x, err := strconv.ParseFloat(text, 64); err == nil {
			return Value{Kind: Number, Text: text, Number: x}
		}
	case view.Moments:
		if at, err := time.Parse(time.RFC3339Nano, text); err == nil {
			return Value{Kind: Moment, Text: text, Time: at}
		}
	}
	return T(text)
}

// digits is a number in full precision; "" where there is none.
func digits(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	if x == math.Trunc(x) && math.Abs(x) < 1e15 {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}
