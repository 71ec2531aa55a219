package table

import "strconv"

// decimal is the decimal mark of a column, ',' or '.', once a number with one
// was met, and the line of that number.
type decimal struct {
	mark byte
	line int
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
