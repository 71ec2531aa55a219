// Package view holds what a command shows, as plain data: text for a person,
// CSV for a spreadsheet and the page are made from it.
package view

import (
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/speech"
)

// Page is one command's answer, in reading order.
type Page struct {
	Title string
	// Stamp stands under the title: what the data are, through which day.
	Stamp    string
	Sections []Section
}

// Section is a part of a page. Its parts are shown in the order of the fields;
// empty ones are left out.
type Section struct {
	Heading    string
	Paragraphs []string
	Tables     []Table
	Warnings   []Warning
	// Notes are small print.
	Notes []string
}

// Shown says whether a person sees anything of the section.
func (s *Section) Shown() bool {
	return s.Heading != "" || len(s.Paragraphs)+len(s.Warnings)+len(s.Notes) > 0 ||
		slices.ContainsFunc(s.Tables, func(t Table) bool { return !t.CSVOnly })
}

// Warning is something the reader must know.
type Warning = cjs.Warning

// Table is a table. Its ID names its CSV file.
type Table struct {
	ID      string
	Title   string
	Columns []Column
	Rows    [][]Cell
	Notes   []Note
	// CSVOnly tables are not shown to a person.
	CSVOnly bool
}

// Note is a footnote of a table; without a mark it is about the whole.
type Note struct{ Mark, Text string }

// Kind says how a column's cells are shown.
type Kind uint8

const (
	// Text cells hold words.
	Text Kind = iota
	// Count cells hold whole numbers, shown with thousands separated.
	Count
	// Number cells hold numbers, shown with the column's digits.
	Number
	// Range cells hold a value with the bounds of its interval; in a CSV file
	// they are three columns.
	Range
)

// Holds says what the words of [Text] cells stand for.
type Holds uint8

const (
	// Words are words.
	Words Holds = iota
	// Numbers are numbers in full precision.
	Numbers
	// Moments are times as moment writes them.
	Moments
	// Prose is for people, as it is in JSON.
	Prose
)

// Column describes the cells below it.
type Column struct {
	// Name is the header in CSV: lower case, unit included. "" leaves the
	// column out there.
	Name string
	// Title is the header for people, with the unit. "" leaves the column out
	// of what people see.
	Title string
	Kind  Kind
	// Digits are the decimals of shown numbers.
	Digits int
	// Holds says what words stand for, in a workbook.
	Holds Holds
	// Key columns say what a record is about; they are repeated when a table
	// is too wide for the paper.
	Key bool
	// Detail columns are left out where all has to stand on one screen.
	Detail bool
}

// Cell is one cell. Which fields count is settled by the column's [Kind].
// Numbers that do not exist are NaN.
type Cell struct {
	Text             string
	Value, Low, High float64
	// Mark refers to a [Note] of the table.
	Mark string
}

// Number is the cell's number with that many decimals; words stand in the place
// of one that does not exist.
func (c Cell) Number(digits int) string {
	if math.IsNaN(c.Value) && c.Text != "" {
		return c.Text
	}
	return Digits(c.Value, digits)
}

// T is a cell of words.
func T(s string) Cell { return Cell{Text: s} }

// N is a cell of a number or count.
func N(x float64) Cell { return Cell{Value: x} }

// I is a cell of a count.
func I[T int | int32 | int64](n T) Cell { return Cell{Value: float64(n)} }

// R is a value with its interval.
func R(x, low, high float64) Cell { return Cell{Value: x, Low: low, High: high} }

// None is the cell of a number that does not exist.
func None() Cell { return R(math.NaN(), math.NaN(), math.NaN()) }

// Marked is the cell with a footnote mark.
func (c Cell) Marked(mark string) Cell {
	c.Mark = mark
	return c
}

// Spoken is the page as it speaks of the animals and occasions of its study.
func (p Page) Spoken(from analysis.Source) Page {
	if say := speech.Of(from.StudyFile); say != nil {
		return p.Map(say)
	}
	return p
}

// Saved is the page as it is written into tables, where only prose speaks of the
// animals and occasions of its study: the rest is for programs.
func (p Page) Saved(from analysis.Source) Page {
	say := speech.Of(from.StudyFile)
	if say == nil {
		return p
	}
	p.Sections = mapped(p.Sections, func(s Section) Section {
		s.Tables = mapped(s.Tables, func(t Table) Table {
			t.Rows = mapped(t.Rows, func(r []Cell) []Cell {
				r = slices.Clone(r)
				for j := range r {
					if t.Columns[j].Holds == Prose {
						r[j].Text = say(r[j].Text)
					}
				}
				return r
			})
			return t
		})
		return s
	})
	return p
}

// Map is the page with f of each of its texts.
func (p Page) Map(f func(string) string) Page {
	p.Title, p.Stamp = f(p.Title), f(p.Stamp)
	p.Sections = mapped(p.Sections, func(s Section) Section { return s.Map(f) })
	return p
}

// Map is the section with f of each of its texts.
func (s Section) Map(f func(string) string) Section {
	s.Heading = f(s.Heading)
	s.Paragraphs, s.Notes = mapped(s.Paragraphs, f), mapped(s.Notes, f)
	s.Warnings = mapped(s.Warnings, func(w Warning) Warning { return Warning{ID: f(w.ID), About: f(w.About), Message: f(w.Message)} })
	s.Tables = mapped(s.Tables, func(t Table) Table { return t.Map(f) })
	return s
}

// Map is the table with f of each of its texts.
func (t Table) Map(f func(string) string) Table {
	t.Title = f(t.Title)
	t.Columns = mapped(t.Columns, func(c Column) Column {
		c.Title = f(c.Title)
		return c
	})
	t.Notes = mapped(t.Notes, func(n Note) Note { return Note{f(n.Mark), f(n.Text)} })
	t.Rows = mapped(t.Rows, func(r []Cell) []Cell {
		return mapped(r, func(c Cell) Cell {
			c.Text = f(c.Text)
			return c
		})
	})
	return t
}

func mapped[T any](all []T, f func(T) T) []T {
	out := make([]T, len(all))
	for i, x := range all {
		out[i] = f(x)
	}
	return out
}
