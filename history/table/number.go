package table

import (
	"math"
	"strconv"
	"strings"
)

// decimal is the decimal mark of a column, ',' or '.', once a number with one
// was met, and the line of that number.
type decimal struct {
	mark byte
	line int
}

// Number is the number in a field, a decimal comma being understood where
// fields are parted by semicolons or tabs, or the study says so. A field that holds none, a missing
// one among them, is noted as a fault.
func (t *Table) Number(column int) (float64, bool) {
	v, numeric, ok := t.number(column)
	if !ok {
		t.noNumber(column, numeric)
		return math.NaN(), false
	}
	return v, true
}

// Count is the whole number in a field, from least to most; another one, or
// none, is noted as a fault.
func (t *Table) Count(column, least, most int) (int, bool) {
	v, _, ok := t.number(column)
	if !ok || v != math.Trunc(v) || v < float64(least) || v > float64(most) {
		t.Fault(column, "%q is not a whole number from %d to %d", t.Field(column), least, most)
		return 0, false
	}
	return int(v), true
}

// number parses a field. Where it is not ok, numeric tells a number that is
// written unlike those before in its column from what is none.
func (t *Table) number(column int) (v float64, numeric, ok bool) {
	s := t.Field(column)
	mark := t.mark(s)
	if mark != 0 && t.said != 0 && mark != t.said {
		return math.NaN(), false, false
	}
	if mark == ',' {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, numeric = ParseNumber(s)
	switch {
	case !numeric:
		return math.NaN(), false, false
	case mark == 0:
		return v, true, true
	case t.decimals == nil:
		t.decimals = make([]decimal, len(t.Header))
	}
	switch d := &t.decimals[column]; d.mark {
	case mark:
	case 0:
		*d = decimal{mark, t.line}
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
	if (t.Delimiter != ',' && t.Delimiter != 0 || t.said == ',') && strings.Count(field, ",") == 1 {
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
		field, markName(t.mark(field)), t.decimals[column].line, markName(t.decimals[column].mark))
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
