package table

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
)

// Number is the number in a field, a decimal comma being understood where
// fields are parted by semicolons or tabs. A field that holds none, a missing
// one among them, is noted as a fault.
func (t *Table) Number(column int) (float64, bool) {
	v, numeric, ok := t.number(t.Field(column))
	if !ok {
		t.noNumber(column, numeric)
		return math.NaN(), false
	}
	return v, true
}

// Count is the whole number in a field, from least to most; another one, or
// none, is noted as a fault.
func (t *Table) Count(column, least, most int) (int, bool) {
	v, _, ok := t.number(t.Field(column))
	if !ok || v != math.Trunc(v) || v < float64(least) || v > float64(most) {
		t.Fault(column, "%q is not a whole number from %d to %d", t.Field(column), least, most)
		return 0, false
	}
	return int(v), true
}

// number parses a field. Where it is not ok, numeric tells a number that is
// written unlike those before from what is none.
func (t *Table) number(field string) (v float64, numeric, ok bool) {
	s, mark := field, t.mark(field)
	if mark == ',' {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, numeric = ParseNumber(s)
	switch {
	case !numeric:
		return math.NaN(), false, false
	case mark == 0 || mark == t.decimal:
	case t.decimal == 0:
		t.decimal, t.decimalLine = mark, t.line
	default:
		return math.NaN(), true, false
	}
	return v, true, true
}

// mark is the decimal mark of a field, 0 if it has none: a comma counts where
// it does not part fields.
func (t *Table) mark(field string) byte {
	if strings.Contains(field, ".") {
		return '.'
	}
	if t.Delimiter != ',' && t.Delimiter != 0 && strings.Count(field, ",") == 1 {
		return ','
	}
	return 0
}

// noNumber notes why the field in a column is not taken as a number.
func (t *Table) noNumber(column int, numeric bool) {
	field := t.Field(column)
	if !numeric {
		t.Fault(column, "%q is not a number", field)
		return
	}
	t.Fault(column, "%q has a decimal %s, while line %d has a decimal %s; write all alike",
		field, markName(t.mark(field)), t.decimalLine, markName(t.decimal))
}

func markName(c byte) string {
	if c == ',' {
		return "comma"
	}
	return "point"
}

// ParseNumber parses a finite decimal number with a decimal point, such as
// -12.5 or 1e-3; nothing else.
func ParseNumber(s string) (float64, bool) {
	// Most are whole and short: exact as an integer.
	if n, ok := shortWhole(s); ok {
		return float64(n), true
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// shortWhole reads one to nine digits.
func shortWhole(s string) (n int, ok bool) {
	if len(s) == 0 || len(s) > 9 {
		return 0, false
	}
	for i := range len(s) {
		c := s[i] - '0'
		if c > 9 {
			return 0, false
		}
		n = n*10 + int(c)
	}
	return n, true
}

// Column gathers one attribute of the fish from a table, record by record.
type Column struct {
	name    string
	asked   string // the kind the study gave, or ""
	kind    string // "number", "category", or "" until it is settled
	settled int    // the line that settled the kind; 0 where the study did
	example string // its cell
	values  []float64
	level   []int32
	index   map[string]int32
}

// NewColumn starts a column; kind is "number", "category" or "": then the
// column is a number if every filled cell is one, a category if none is.
func NewColumn(name, kind string) *Column {
	return &Column{name: name, asked: kind, kind: kind, index: map[string]int32{}}
}

// Like starts another column of the same name and kind.
func (c *Column) Like() *Column { return NewColumn(c.name, c.asked) }

// Join puts the records of another column behind those of c. It returns false,
// and c is spoilt, where one kind does not hold for both.
func (c *Column) Join(o *Column) bool {
	if c.kind == "" { // only missing cells yet, kept as both kinds
		c.kind, c.settled, c.example = o.kind, o.settled, o.example
	}
	if c.kind != o.kind && o.kind != "" {
		return false
	}
	switch c.kind {
	case "number":
		c.values, c.level = append(c.values, o.values...), nil
	case "category":
		c.values, c.level = nil, JoinLevels(c.index, c.level, o.index, o.level)
	default:
		c.values, c.level = append(c.values, o.values...), append(c.level, o.level...)
	}
	return true
}

// Grow makes room for n more records.
func (c *Column) Grow(n int) {
	if c.kind != "category" {
		c.values = slices.Grow(c.values, n)
	}
	if c.kind != "number" {
		c.level = slices.Grow(c.level, n)
	}
}

// JoinLevels puts the records of a category behind others: index gives each
// level's number as used in level, -1 there being missing. index is added to.
func JoinLevels(index map[string]int32, level []int32, otherIndex map[string]int32, other []int32) []int32 {
	to := make([]int32, len(otherIndex))
	for name, k := range otherIndex {
		n, ok := index[name]
		if !ok {
			n = int32(len(index))
			index[name] = n
		}
		to[k] = n
	}
	for _, k := range other {
		if k >= 0 {
			k = to[k]
		}
		level = append(level, k)
	}
	return level
}

// Name is the column's name.
func (c *Column) Name() string { return c.name }

// Add takes the record's cell in the table's column; a cell that does not fit
// is noted as a fault of the table.
func (c *Column) Add(t *Table, column int) {
	cell := t.Field(column)
	value, level := math.NaN(), int32(-1)
	if !IsMissing(cell) {
		numeric, ok := false, false
		if c.kind != "category" || c.settled > 0 {
			value, numeric, ok = t.number(cell)
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
			k, ok := c.index[cell]
			if !ok {
				k = int32(len(c.index))
				c.index[strings.Clone(cell)] = k
			}
			level = k
		}
	}
	// Until the kind is settled only missing cells were seen: both are kept.
	if c.kind != "category" {
		c.values = append(c.values, value)
	}
	if c.kind != "number" {
		c.level = append(c.level, level)
	}
	switch c.kind {
	case "category":
		c.values = nil
	case "number":
		c.level = nil
	}
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
	out.Levels, out.Level = Levels(c.index, c.level)
	return out
}

// Levels puts the levels of a category in natural order: index gives each
// level's number as used in level, -1 there being missing. level is changed.
func Levels(index map[string]int32, level []int32) ([]string, []int32) {
	names := make([]string, 0, len(index))
	for k := range index {
		names = append(names, k)
	}
	slices.SortFunc(names, history.NaturalCompare)
	to := make([]int32, len(names))
	for i, name := range names {
		to[index[name]] = int32(i)
	}
	for i, k := range level {
		if k >= 0 {
			level[i] = to[k]
		}
	}
	return names, level
}
