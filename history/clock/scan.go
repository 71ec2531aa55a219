package clock

// Years is where a year of two digits stands.
type Years uint8

// Months is the language of the names of months that stand for one month in
// Croatian, and for another in Polish or Czech. The zero value: not settled.
type Months uint8

const (
	Polish   Months = 1 << iota // lis is November, lip July
	Croatian                    // lis is October, lip June

	// unsureMonth: the name is one of those.
	unsureMonth
)

// scanner reads a value from the left.
type scanner struct {
	b     []byte
	i     int
	years Years
	// months are those of the layout, met those that the names of months show.
	months, met Months
}

func (s *scanner) peek() byte {
	if s.i < len(s.b) {
		return s.b[s.i]
	}
	return 0
}

func (s *scanner) blanks() {
	for s.peek() == ' ' || s.peek() == '\t' {
		s.i++
	}
}

// number reads a run of digits, at most 18 of them.
func (s *scanner) number() (n int64, digits int) {
	for c := s.peek(); c >= '0' && c <= '9' && digits < 18; c = s.peek() {
		n = n*10 + int64(c-'0')
		digits++
		s.i++
	}
	return n, digits
}
