package clock

import (
	"math/bits"
	"strings"
)

const (
	// FourDigits: years of two are not read.
	FourDigits Years = iota
	ShortLast        // at the end, as 3/5/25
	ShortFirst       // at the beginning, as 25/5/3
)

// century is the year that two digits stand for: from 1950 to 2049.
func century(n int) int {
	if n < 50 {
		return 2000 + n
	}
	return 1900 + n
}

// shortDates are the dates with a year of two digits that a survey has seen:
// which numbers stand in each of their three places. A month's name is 0.
type shortDates struct {
	seen     [3][2]uint64 // bits by number, 0 to 99
	dayFirst example
	monFirst example
	unsure   example
	first    example
}

func (d *shortDates) add(b []byte, line int) {
	n, ok := threeNumbers(b)
	if !ok {
		return
	}
	d.first.set(b, line)
	for i, v := range n {
		d.seen[i][v/64] |= 1 << (v % 64)
	}
	switch {
	case n[1] == 0: // a name
	case n[0] > 12 && n[1] <= 12:
		d.dayFirst.set(b, line)
	case n[1] > 12 && n[0] <= 12:
		d.monFirst.set(b, line)
	case n[0] != n[1]:
		d.unsure.set(b, line)
	}
}

// threeNumbers are those of a date with a year of two digits.
func threeNumbers(b []byte) (n [3]int, ok bool) {
	s := scanner{b: b}
	for i := range n {
		s.separators(i)
		if i == 1 {
			if s.monthName() > 0 {
				continue
			}
		}
		v, digits := s.number()
		if digits == 0 || digits > 2 {
			return n, false
		}
		n[i] = int(v)
	}
	return n, true
}

// separators reads on past what parts the numbers of a date.
func (s *scanner) separators(i int) {
	for c := s.peek(); i > 0 && (c == '.' || c == '-' || c == '/' || c == ' '); c = s.peek() {
		s.i++
	}
}

// years tells where the year stands: in a place with one number, or two that
// follow each other, where the days beside it are more. ok is false where that
// is not one place.
func (d *shortDates) years() (Years, bool) {
	var few [3]bool
	var distinct [3]int
	for i := range d.seen {
		x := d.seen[i]
		distinct[i] = bits.OnesCount64(x[0]) + bits.OnesCount64(x[1])
		lo, hi := -1, 0
		for v := range 100 {
			if x[v/64]>>(v%64)&1 == 1 {
				if lo < 0 {
					lo = v
				}
				hi = v
			}
		}
		few[i] = hi-lo <= 1
		if hi > 31 { // no day
			distinct[i] = -distinct[i]
		}
	}
	last := few[2] && (distinct[2] < 0 || max(distinct[0], distinct[1]) > distinct[2]) && min(distinct[0], distinct[1]) > 0
	first := few[0] && (distinct[0] < 0 || distinct[2] > distinct[0]) && min(distinct[1], distinct[2]) > 0
	switch {
	case last && !first:
		return ShortLast, true
	case first && !last:
		return ShortFirst, true
	}
	return FourDigits, false
}

type example struct {
	text string
	line int
}

func (e *example) set(b []byte, line int) {
	if e.line == 0 {
		e.text, e.line = strings.TrimSpace(string(b)), line
	}
}
