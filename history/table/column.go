package table

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
)

// Column gathers one attribute of the fish from a table, record by record.
type Column struct {
	name    string
	asked   string // the kind the study gave, or ""
	kind    string // "number", "category", or "" until it is settled
	settled int    // the line that settled the kind; 0 where the study did
	example string // its cell
	values  []float64
	levels  Category
}

// NewColumn starts a column; kind is "number", "category" or "": then the
// column is a number if every filled cell is one, a category if none is.
func NewColumn(name, kind string) *Column {
	return &Column{name: name, asked: kind, kind: kind}
}

// Like starts another column of the same name and kind.
func (c *Column) Like() *Column { return NewColumn(c.name, c.asked) }

// Join puts the records of another column behind those of c. It returns false,
// and c is spoilt, where one kind does not hold for both.
func (c *Column) Join(o *Column) bool {
	if o == nil {
		return false
	}
	if c.kind == "" { // only missing cells yet, kept as both kinds
		c.kind, c.settled, c.example = o.kind, o.settled, o.example
	}
	if c.kind != o.kind && o.kind != "" {
		return false
	}
	c.values = append(c.values, o.values...)
	c.levels.Join(&o.levels)
	c.keepKind()
	return true
}

// keepKind lets go of what the other kind would need, once the kind is settled.
func (c *Column) keepKind() {
	switch c.kind {
	case "category":
		c.values = nil
	case "number":
		c.levels.Level = nil
	}
}

// Grow makes room for n more records, as far as one would make room at once.
func (c *Column) Grow(n int) {
	n = min(max(n, 0), 1<<22)
	if c.kind != "category" {
		c.values = slices.Grow(c.values, n)
	}
	if c.kind != "number" {
		c.levels.Level = slices.Grow(c.levels.Level, n)
	}
}

// Add takes the record's cell in the table's column; a cell that does not fit
// is noted as a fault of the table.
func (c *Column) Add(t *Table, column int) {
	cell := t.Field(column)
	value, level := math.NaN(), int32(-1)
	if !IsMissing(cell) {
		numeric, ok := false, false
		if c.kind != "category" || c.settled > 0 {
			value, numeric, ok = t.number(column)
		}
		if c.kind == "" {
			c.kind, c.settled, c.example = "category", t.line, strings.Clone(cell)
			if numeric {
				c.kind = "number"
			}
		}
		switch {
		case c.kind == "number" && c.settled > 0 && !numeric, c.kind == "category" && numeric:
			t.Fault(column, "holds text and numbers: %q, and %q on line %d; put the cells right, or say kinds = { %s = \"category\" }",
				cell, c.example, c.settled, quoteKey(c.name))
		case c.kind == "number" && !ok:
			t.noNumber(column, numeric)
		case c.kind == "category":
			level = c.levels.number(cell)
		}
	}
	// Until the kind is settled only missing cells were seen: both are kept.
	if c.kind != "category" {
		c.values = append(c.values, value)
	}
	if c.kind != "number" {
		c.levels.Level = append(c.levels.Level, level)
	}
	c.keepKind()
}

// quoteKey writes a column's name as a TOML key.
func quoteKey(s string) string {
	bare := s != "" && !strings.ContainsFunc(s, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '_' && r != '-'
	})
	if bare {
		return s
	}
	return strconv.Quote(s)
}

// Finish gives the column with its levels in natural order, whatever the
// order of the records. A column without any filled cell is a number.
func (c *Column) Finish() history.Column {
	out := history.Column{Name: c.name}
	if c.kind != "category" {
		out.Value = c.values
		if out.Value == nil {
			out.Value = []float64{}
		}
		return out
	}
	out.Levels, out.Level = c.levels.Finish()
	return out
}
