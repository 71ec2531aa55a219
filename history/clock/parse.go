package clock

import (
	"bytes"
	"encoding/binary"
	"fmt"
)

// Order is the order of day, month and year in dates written with the year
// last.
type Order uint8

const (
	// Unsettled: dates with the year last are not read.
	Unsettled  Order = iota
	DayFirst         // 3/5/2025 is 3 May
	MonthFirst       // 3/5/2025 is 5 March
)

func (o Order) String() string {
	switch o {
	case DayFirst:
		return "day first"
	case MonthFirst:
		return "month first"
	}
	return "unsettled"
}

// Kind is how a column writes times.
type Kind uint8

const (
	// Any: each value tells by itself.
	Any Kind = iota
	// Calendar: dates and times of day in figures.
	Calendar
	// Serial: a spreadsheet's days since 1899-12-30, with a fraction.
	Serial
	// Epoch: seconds, or thousandths of them, since 1970-01-01 UTC.
	Epoch
)

// Layout is how one file writes its times, settled once by a [Survey].
type Layout struct {
	Kind  Kind  // calendar, day number or seconds
	Order Order // of day and month, where the calendar leaves it open
	Years Years // where a year of two digits stands
	// Months is the language of names that stand for different months in two.
	Months Months
}

// Fault is why a value is not a time.
type Fault uint8

const (
	OK           Fault = iota // it is a time
	Empty                     // there is no text
	NotATime                  // not understood
	TwoDigitYear              // the year has two digits, and the layout does not say where it stands
	NoSuchDay                 // such as 31 April
	NoSuchTime                // such as 25:00
	OutOfRange                // too early or too late to be stored
	// AmbiguousOrder: a date such as 3/4/2025 where the order is not settled.
	AmbiguousOrder
	// WrongOrder: a date that the settled order cannot read, the other could.
	WrongOrder
	// OtherKind: a number where the column has dates, or the reverse.
	OtherKind
	// AmbiguousMonth: the name of one month in Croatian and of another in Polish.
	AmbiguousMonth
)

var faultWords = [...]string{
	OK:             "a time",
	Empty:          "empty",
	NotATime:       "not a date and time",
	TwoDigitYear:   "a year of two digits; write all four",
	NoSuchDay:      "no such day",
	NoSuchTime:     "no such time of day",
	OutOfRange:     "outside the years 1950 to 2100",
	AmbiguousOrder: "day and month could be either way round; set date_order",
	WrongOrder:     "day and month the other way round than in the rest of the file",
	OtherKind:      "written in another way than the rest of the file",
	AmbiguousMonth: "one month in Croatian and another in Polish or Czech; write the month as a number",
}

func (f Fault) String() string {
	if int(f) >= len(faultWords) {
		return fmt.Sprintf("fault %d", uint8(f))
	}
	return faultWords[f]
}

// Reading is a value that was read.
type Reading struct {
	// Ms is milliseconds since 1970-01-01 00:00: of UTC where Absolute, else
	// on a wall clock whose zone is not written.
	Ms int64
	// Absolute: the value says which instant it is.
	Absolute bool
	// DateOnly: there is no time of day; Ms is the start of the day.
	DateOnly bool
}

const day = 86_400_000

// longest is how many bytes are looked at: no time has as many.
const longest = 200

// The years between which zones know their clock changes.
const firstYear, lastYear = 1950, 2100

var (
	firstMs = civil(firstYear, 1, 1) * day
	lastMs  = civil(lastYear, 1, 1) * day
)

// civil is the number of days from 1970-01-01 to a day of the Gregorian
// calendar.
func civil(y, m, d int) int64 {
	// Years that start in March put the leap day last.
	if m <= 2 {
		y--
		m += 12
	}
	era := y / 400
	yoe := y - era*400
	doy := (153*(m-3)+2)/5 + d - 1
	doe := yoe*365 + yoe/4 - yoe/100 + doy
	return int64(era)*146097 + int64(doe) - 719468
}

func daysIn(y, m int) int {
	switch m {
	case 2:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// Parse reads one value without allocating. It never panics.
func (l Layout) Parse(b []byte) (Reading, Fault) {
	var d Dates
	return d.Parse(l, b)
}

// Dates remembers the date read last, for one goroutine: records come by the
// thousand a day. The zero value is ready for use.
type Dates struct {
	layout Layout
	// head and tail are the first and the last eight of the eleven bytes of a
	// date and what parts it from the time, as "2025-05-03 " or "03/05/2025 ",
	// first byte lowest; 0 where there is none.
	head, tail uint64
	ms         int64
}

// remembers tells whether the first eleven bytes are those of the date read
// last.
func (d *Dates) remembers(b []byte) bool {
	return binary.LittleEndian.Uint64(b) == d.head && binary.LittleEndian.Uint64(b[3:]) == d.tail
}

// timeAfter is the time of day behind eleven bytes of date, less its offset,
// where it is written 04:05, 04:05:06 or 04:05:06.789 and ends there or with Z,
// +01, +0100 or +01:00, perhaps behind a blank; absolute tells that it has an
// offset.
func timeAfter(b []byte) (ms int64, absolute, ok bool) {
	const noSeconds = ':'<<40 | '0'<<48 | '0'<<56
	if len(b) == 16 {
		ms, ok = timeOf(uint64(binary.LittleEndian.Uint32(b[11:])) | uint64(b[15])<<32 | noSeconds)
		return ms, false, ok
	}
	if len(b) < 19 {
		return 0, false, false
	}
	ms, ok = timeOf(binary.LittleEndian.Uint64(b[11:]))
	if rest := b[19:]; ok && len(rest) > 0 {
		if len(rest) > 1 && rest[0] == '.' && rest[1]-'0' <= 9 {
			var more int64
			more, rest = thousandths(rest[1:])
			ms += more
		}
		var by int64
		by, absolute, ok = offsetOf(rest)
		ms -= by
	}
	return ms, absolute, ok
}

// thousandths are those of decimals, and what stands behind them.
func thousandths(b []byte) (ms int64, rest []byte) {
	unit := int64(100)
	for len(b) > 0 && b[0]-'0' <= 9 {
		ms += int64(b[0]-'0') * unit
		unit /= 10
		b = b[1:]
	}
	return ms, b
}

// offsetOf is the offset, in milliseconds, that Z, +01, +0100 or +01:00 names,
// perhaps behind a blank; absolute is false where there is none.
func offsetOf(b []byte) (ms int64, absolute, ok bool) {
	if len(b) == 0 {
		return 0, false, true
	}
	if b[0] == ' ' {
		b = b[1:]
	}
	if len(b) == 1 {
		return 0, true, b[0] == 'Z'
	}
	var d [4]byte
	switch {
	case len(b) == 6 && b[3] == ':':
		d = [4]byte{b[1], b[2], b[4], b[5]}
	case len(b) == 5:
		d = [4]byte(b[1:])
	case len(b) == 3:
		d = [4]byte{b[1], b[2], '0', '0'}
	default:
		return 0, false, false
	}
	for i := range d {
		if d[i] -= '0'; d[i] > 9 {
			return 0, false, false
		}
	}
	h, m := int64(d[0])*10+int64(d[1]), int64(d[2])*10+int64(d[3])
	if ms = (h*60 + m) * 60_000; b[0] == '-' {
		ms = -ms
	}
	return ms, true, h <= 15 && m <= 59 && (b[0] == '+' || b[0] == '-')
}

// Parse is [Layout.Parse].
func (d *Dates) Parse(l Layout, b []byte) (Reading, Fault) {
	if l != d.layout {
		*d = Dates{layout: l}
	}
	var ms int64
	var absolute, ok bool
	if 16 <= len(b) && len(b) <= longest && (b[10] == ' ' || b[10] == 'T') {
		if ms, absolute, ok = timeAfter(b); ok && d.remembers(b) {
			return inRange(Reading{Ms: d.ms + ms, Absolute: absolute})
		}
	}
	if ok && l.Kind <= Calendar {
		if day, iso := isoDay(b); iso {
			d.head, d.tail, d.ms = binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(b[3:]), day
			return inRange(Reading{Ms: day + ms, Absolute: absolute})
		}
	}
	r, fault := l.parse(b)
	if ok && fault == OK {
		// The bytes before the time may say more than the day, as PM.
		if day, alone := l.parse(b[:10]); alone == OK && day.DateOnly && day.Ms+ms == r.Ms {
			d.head, d.tail, d.ms = binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(b[3:]), day.Ms
		}
	}
	return r, fault
}

// inRange is a reading, but for one of an instant outside the years.
func inRange(r Reading) (Reading, Fault) {
	if r.Ms < firstMs || r.Ms >= lastMs {
		return Reading{}, OutOfRange
	}
	return r, OK
}

// isoDay is the start of the day that 2025-05-03 names; ok is false for whatever
// else the first ten bytes may be.
func isoDay(b []byte) (ms int64, ok bool) {
	var n [8]int
	for i, at := range [8]int{0, 1, 2, 3, 5, 6, 8, 9} {
		digit := b[at] - '0'
		if digit > 9 {
			return 0, false
		}
		n[i] = int(digit)
	}
	y, m, d := n[0]*1000+n[1]*100+n[2]*10+n[3], n[4]*10+n[5], n[6]*10+n[7]
	if b[4] != '-' || b[7] != '-' || y < firstYear || y >= lastYear || m < 1 || m > 12 || d < 1 || d > daysIn(y, m) {
		return 0, false
	}
	return civil(y, m, d) * day, true
}

// timeOf is the time of day, in milliseconds, that the eight bytes of 04:05:06
// name, first byte lowest: all are looked at together.
func timeOf(v uint64) (ms int64, ok bool) {
	const colons, mask = 0x00003A00003A0000, 0x0000FF0000FF0000
	const nibbles, threes, sixes = 0xF0F0F0F0F0F0F0F0, 0x3030303030303030, 0x0606060606060606
	ok = v&mask == colons
	v ^= 0x00000A00000A0000 // a colon becomes a nought
	// A digit has the high nibble 3 and stays so after adding 6.
	ok = ok && v&nibbles == threes && (v+sixes)&nibbles == threes
	v -= threes
	v = v*10 + v>>8
	h, m, s := int64(v&0xFF), int64(v>>24&0xFF), int64(v>>48&0xFF)
	return ((h*60+m)*60 + s) * 1000, ok && h <= 23 && m <= 59 && s <= 59
}

// fraction reads decimals after a point or comma, as billionths; without any
// it leaves the point alone.
func (s *scanner) fraction() (billionths int64) {
	if c := s.peek(); c != '.' && c != ',' || s.i+1 >= len(s.b) || s.b[s.i+1]-'0' > 9 {
		return 0
	}
	s.i++
	unit := int64(100_000_000)
	for c := s.peek(); c >= '0' && c <= '9'; c = s.peek() {
		billionths += int64(c-'0') * unit
		unit /= 10
		s.i++
	}
	return billionths
}

func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	return b
}

func (l Layout) parse(b []byte) (Reading, Fault) {
	b = trim(b)
	if len(b) == 0 {
		return Reading{}, Empty
	}
	if len(b) > longest {
		return Reading{}, NotATime
	}
	if !isASCII(b) {
		b = plain(b)
	}
	s := scanner{b: b, years: l.Years, months: l.Months}
	r, kind, fault := s.value(l.Order)
	if l.Kind != Any && kind != Any && kind != l.Kind {
		return Reading{}, OtherKind
	}
	if fault != OK {
		return Reading{}, fault
	}
	return inRange(r)
}

// value reads a value of any kind; kind is Any where it cannot be told.
func (s *scanner) value(order Order) (Reading, Kind, Fault) {
	n, digits := s.number()
	if digits == 0 {
		s.dayName()
		if m := s.monthName(); m > 0 {
			return s.monthFirst(m)
		}
		n, digits = s.number()
	}
	switch c := s.peek(); {
	case digits == 0:
		return Reading{}, Any, NotATime
	case digits == 8 && (c == 0 || c == 'T' || c == ' '):
		if y := n / 10000; y >= firstYear && y < lastYear {
			return s.calendar(int(n/10000), int(n/100%100), int(n%100))
		}
		return Reading{}, Any, OutOfRange
	case c == 0 || c == '.' && s.decimalsOnly() || c == ',' && s.decimalsOnly():
		return s.plainNumber(n, digits)
	case c == '-' || c == '/' || c == '.' || c == ' ':
		return s.date(int(n), digits, order)
	}
	return Reading{}, Any, NotATime
}

// decimalsOnly tells whether all that follows the point is digits, so that
// the value is one number.
func (s *scanner) decimalsOnly() bool {
	for _, c := range s.b[s.i+1:] {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

func (s *scanner) plainNumber(n int64, digits int) (Reading, Kind, Fault) {
	billionths := s.fraction()
	if s.i < len(s.b) {
		return Reading{}, Any, NotATime
	}
	switch {
	case digits == 5: // a day between 1927 and 2173
		// Spreadsheets keep a day to about a millisecond; round to it.
		return Reading{Ms: (n-25569)*day + (billionths*day+500_000_000)/1_000_000_000, DateOnly: billionths == 0}, Serial, OK
	case digits == 9 || digits == 10:
		return Reading{Ms: n*1000 + billionths/1_000_000, Absolute: true}, Epoch, OK
	case digits == 12 || digits == 13:
		return Reading{Ms: n, Absolute: true}, Epoch, OK
	}
	return Reading{}, Any, NotATime
}

// monthFirst reads the rest of a date that begins with a month's name, as May 3,
// 2025.
func (s *scanner) monthFirst(m int) (Reading, Kind, Fault) {
	s.blanks()
	d, dd := s.number()
	if dd == 0 || dd > 2 {
		return Reading{}, Any, NotATime
	}
	if s.peek() == ',' {
		s.i++
	}
	s.blanks()
	y, yd := s.number()
	if yd != 4 {
		return Reading{}, Any, NotATime
	}
	if s.peek() == ',' {
		s.i++
	}
	return s.calendar(int(y), m, int(d))
}

// date reads the rest of a date whose first number is n.
func (s *scanner) date(n, digits int, order Order) (Reading, Kind, Fault) {
	sep := s.peek()
	s.i++
	at := s.i
	if s.blanks(); sep == ' ' && s.peek()|0x20 == 'd' && s.i+2 < len(s.b) && s.b[s.i+1]|0x20 == 'e' && s.b[s.i+2] == ' ' {
		s.i += 3 // 3 de mayo de 2025
	}
	if digits == 4 {
		s.skipWord("m") // 2025 m. kovo 5 d.
	}
	if m := s.monthName(); m > 0 && digits == 4 {
		return s.dayAfterMonth(n, m)
	} else if m > 0 && digits <= 2 {
		return s.afterMonth(n, m)
	}
	s.i = at
	if sep == '.' {
		s.blanks() // 5. 3. 2025
	}
	second, d2 := s.number()
	if sep == ' ' || d2 == 0 || d2 > 2 || s.peek() != sep {
		return Reading{}, Any, NotATime
	}
	if s.i++; sep == '.' {
		s.blanks()
	}
	third, d3 := s.number()
	if digits == 4 && d3 >= 1 && d3 <= 2 {
		return s.calendar(n, int(second), int(third))
	}
	if digits > 2 || d3 == 0 {
		return Reading{}, Any, NotATime
	}
	if s.years == ShortFirst && d3 <= 2 {
		return s.calendar(century(n), int(second), int(third))
	}
	if s.years == ShortLast && d3 == 2 {
		third, d3 = int64(century(int(third))), 4
	}
	if d3 != 4 {
		return Reading{}, Calendar, TwoDigitYear
	}
	d, m := n, int(second)
	switch order {
	case MonthFirst:
		d, m = m, d
	case Unsettled:
		// 25/3 and 3/25 tell by themselves, and so does 4/4.
		switch {
		case d <= 12 && m <= 12 && d != m:
			return Reading{}, Calendar, AmbiguousOrder
		case m > 12:
			d, m = m, d
		}
	}
	if m > 12 && d >= 1 && d <= 12 {
		return Reading{}, Calendar, WrongOrder
	}
	return s.calendar(int(third), m, d)
}

// dayAfterMonth reads the rest of a date of which the year and the name of the
// month were read, as 2025. március 5. or 2025-Mar-05.
func (s *scanner) dayAfterMonth(y, m int) (Reading, Kind, Fault) {
	if c := s.peek(); c == '-' || c == '/' || c == '.' {
		s.i++
	}
	s.blanks()
	d, digits := s.number()
	if digits == 0 || digits > 2 {
		return Reading{}, Any, NotATime
	}
	return s.calendar(y, m, int(d))
}

// afterMonth reads the rest of a date of which the first number and the name of
// the month were read.
func (s *scanner) afterMonth(n, m int) (Reading, Kind, Fault) {
	if c := s.peek(); c != '-' && c != '/' && c != '.' && c != ' ' {
		return Reading{}, Any, NotATime
	}
	s.i++
	if s.blanks(); s.peek()|0x20 == 'd' && s.i+2 < len(s.b) && s.b[s.i+1]|0x20 == 'e' && s.b[s.i+2] == ' ' {
		s.i += 3
	}
	y, yd := s.number()
	switch {
	case yd == 4:
		return s.calendar(int(y), m, n)
	case yd != 2:
		return Reading{}, Any, NotATime
	case s.years == ShortLast:
		return s.calendar(century(int(y)), m, n)
	case s.years == ShortFirst:
		return s.calendar(century(n), m, int(y))
	}
	return Reading{}, Calendar, TwoDigitYear
}

// calendar reads what follows a date: nothing, or a time of day and perhaps
// an offset.
func (s *scanner) calendar(y, m, d int) (Reading, Kind, Fault) {
	if y < firstYear || y >= lastYear {
		return Reading{}, Calendar, OutOfRange
	}
	if m < 1 || m > 12 || d < 1 || d > daysIn(y, m) {
		return Reading{}, Calendar, NoSuchDay
	}
	if s.met&unsureMonth != 0 && s.months == 0 {
		return Reading{}, Calendar, AmbiguousMonth
	}
	r := Reading{Ms: civil(y, m, d) * day}
	s.afterDate()
	if s.i == len(s.b) {
		r.DateOnly = true
		return r, Calendar, OK
	}
	if c := s.peek(); c == 'T' || c == 't' || c == ',' {
		s.i++
	} else if c != ' ' && c != '\t' {
		return r, Calendar, NotATime
	}
	s.blanks()
	fault := s.timeOfDay(&r)
	return r, Calendar, fault
}

// timeOfDay reads a time of day and adds it to the day that r is.
func (s *scanner) timeOfDay(r *Reading) Fault {
	lead := s.leadIn()
	hh, digits := s.number()
	var mm, ss int64
	billionths := int64(0)
	colons := false
	switch {
	case digits == 6: // 040506
		hh, mm, ss = hh/10000, hh/100%100, hh%100
		billionths = s.fraction()
	case digits == 4: // 0405
		hh, mm = hh/100, hh%100
	case digits == 1 || digits == 2:
		sep := s.peek() // 20:30, 20.30, 20h30 or 20-30-00
		if sep != ':' && sep != '.' && sep != '-' && sep|0x20 != 'h' {
			return NotATime
		}
		colons = sep == ':'
		s.i++
		var n int
		if mm, n = s.number(); n != 2 {
			return NotATime
		}
		if c := s.peek(); c == ':' || c == '\'' && colons || c == '.' && sep == '.' || c == '-' && sep == '-' || c|0x20 == 'm' && sep|0x20 == 'h' && s.i+1 < len(s.b) && s.b[s.i+1]-'0' <= 9 {
			s.i++
			if ss, n = s.number(); n != 2 {
				return NotATime
			}
			if c|0x20 == 'm' && s.peek()|0x20 == 's' {
				s.i++ // 20h30m00s
			}
			billionths = s.partsOfSecond(colons)
		} else if sep == '-' {
			return NotATime // a time and its offset, or what not
		}
	default:
		return NotATime
	}
	s.blanks()
	half := s.halfDay(colons)
	switch {
	case lead == 0 && half == 0:
	case lead != 0 && half != 0:
		return NotATime
	case hh > 12 || hh == 0 && half != 0: // before the time, as in Japanese, half days begin at 0
		return NoSuchTime
	default:
		if hh %= 12; lead+half == 'p' {
			hh += 12
		}
		s.blanks()
	}
	if colons && half == 0 {
		s.skipWord("uhr", "h", "hrs", "hr", "uur")
	} else if half == 0 {
		s.skipWord("uhr", "uur")
	}
	// 24:00 is the end of the day (ISO 8601-1:2019/Amd 1:2022).
	if mm > 59 || ss > 59 || hh > 24 || hh == 24 && mm+ss+billionths > 0 {
		return NoSuchTime
	}
	r.Ms += ((hh*60+mm)*60+ss)*1000 + billionths/1_000_000
	return s.offset(r)
}

// leadIn reads on past what may stand before a time of day: a sign that it is
// text, a T, or a word. Where that is the half of the day, as 午後, which [plain]
// writes pm, it gives it as halfDay does.
func (s *scanner) leadIn() (half byte) {
	if c := s.peek(); (c == '\'' || c|0x20 == 't') && bytes.IndexByte(s.b[s.i:], ':') > 0 {
		s.i++
	}
	if s.skipWord("kl", "klo", "godz", "um") {
		return 0
	}
	half = s.halfDay(false)
	s.blanks()
	return half
}

// partsOfSecond reads decimals of seconds, or thousandths behind a colon, and a
// point at the end that has none behind it.
func (s *scanner) partsOfSecond(colons bool) (billionths int64) {
	if rest := s.b[s.i:]; colons && len(rest) >= 4 && rest[0] == ':' {
		at := s.i
		s.i++
		if n, digits := s.number(); digits == 3 {
			return n * 1_000_000
		}
		s.i = at
		return 0
	}
	billionths = s.fraction()
	if s.peek() == '.' && s.i+1 == len(s.b) {
		s.i++
	}
	return billionths
}

// halfDay reads am, PM, a.m. or p. m.: 'a' or 'p', or 0 where there is none. At
// the end a letter alone does where bare says so, as of 2:32:05p.
func (s *scanner) halfDay(bare bool) byte {
	c := s.peek() | 0x20
	if c != 'a' && c != 'p' {
		return 0
	}
	i := s.i + 1
	if bare && i == len(s.b) {
		s.i = i
		return c
	}
	skip := func(x byte) {
		if i < len(s.b) && s.b[i] == x {
			i++
		}
	}
	skip('.')
	skip(' ')
	if i >= len(s.b) || s.b[i]|0x20 != 'm' {
		return 0
	}
	i++
	skip('.')
	s.i = i
	return c
}

// offset reads Z, UTC, GMT, +hh, +hhmm, +hh:mm, UTC+h or the name of a European
// zone, or nothing.
func (s *scanner) offset(r *Reading) Fault {
	rest := s.b[s.i:]
	switch len(rest) {
	case 0:
		return OK
	case 1:
		if rest[0]|0x20 == 'z' {
			r.Absolute = true
			return OK
		}
		return NotATime
	case 3:
		if x := string(rest); x == "UTC" || x == "GMT" {
			r.Absolute = true
			return OK
		}
	}
	if hours, ok := european(rest, r.Ms); ok {
		r.Ms -= hours * 3_600_000
		r.Absolute = true
		return OK
	}
	named := len(rest) > 3 && (bytes.HasPrefix(rest, []byte("UTC")) || bytes.HasPrefix(rest, []byte("GMT")))
	if named {
		s.i += 3
		s.blanks()
		rest = append(s.b[s.i:len(s.b):len(s.b)], 0)
	}
	sign := int64(1)
	switch rest[0] {
	case '-':
		sign = -1
	case '+':
	default:
		return NotATime
	}
	s.i++
	hh, digits := s.number()
	var mm int64
	switch {
	case digits == 4:
		hh, mm = hh/100, hh%100
	case digits == 2 && s.peek() == ':':
		s.i++
		var n int
		if mm, n = s.number(); n != 2 {
			return NotATime
		}
	case digits != 2 && (digits != 1 || !named):
		return NotATime
	}
	if s.i != len(s.b) || hh > 15 || mm > 59 {
		return NotATime
	}
	r.Ms -= sign * (hh*60 + mm) * 60_000
	r.Absolute = true
	return OK
}
