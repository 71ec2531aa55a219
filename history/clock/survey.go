package clock

import (
	"fmt"
	"time"
)

// Survey settles how a column writes times from the column's own values. The
// zero value is ready for use.
type Survey struct {
	kinds     [4]int
	first     [11]example // the first value of each fault
	dayFirst  example     // the first value that only reads day first
	monFirst  example
	unsure    example // the first that reads both ways
	yearLast  bool
	serialBig bool    // a spreadsheet's day number has a day of the month above 12
	months    Months  // that names show
	doubtful  example // the first name of a month that may be another
	short     shortDates
}

// Add looks at a value; line is where it stands.
func (s *Survey) Add(b []byte, line int) {
	b = trim(b)
	if len(b) == 0 {
		return
	}
	if len(b) > longest {
		s.first[NotATime].set(b[:longest], line)
		return
	}
	if !isASCII(b) {
		b = plain(b)
	}
	x := scanner{b: b}
	v, kind, fault := x.value(DayFirst)
	if s.months |= x.met; x.met&unsureMonth != 0 {
		s.doubtful.set(b, line)
	}
	if kind == Any {
		s.first[fault].set(b, line)
		return
	}
	if fault != OK && fault != WrongOrder {
		s.first[fault].set(b, line)
	}
	if fault == TwoDigitYear {
		s.short.add(b, line)
		return
	}
	s.kinds[kind]++
	if kind == Serial {
		s.serialBig = s.serialBig || fault != OK || time.UnixMilli(v.Ms).UTC().Day() > 12
	}
	if kind != Calendar {
		return
	}
	x = scanner{b: b}
	_, _, other := x.value(MonthFirst)
	x = scanner{b: b}
	_, _, unsettled := x.value(Unsettled)
	switch {
	case unsettled == AmbiguousOrder:
		s.yearLast = true
		s.unsure.set(b, line)
	case fault == OK && other == WrongOrder:
		s.yearLast = true
		s.dayFirst.set(b, line)
	case other == OK && fault == WrongOrder:
		s.yearLast = true
		s.monFirst.set(b, line)
	}
}

// Settled tells whether further values can add nothing needed: there are
// times, and either none has the year last or one has told the order.
func (s *Survey) Settled() bool {
	return s.kinds[Calendar]+s.kinds[Serial]+s.kinds[Epoch] > 0 &&
		(s.unsure.line == 0 || s.dayFirst.line != 0 || s.monFirst.line != 0)
}

// Wants tells whether further values may settle what these do not, where the
// study declares an order or none.
func (s *Survey) Wants(declared Order) bool {
	if s.short.first.line != 0 && s.kinds[Calendar]+s.kinds[Serial]+s.kinds[Epoch] == 0 {
		return true
	}
	return declared == Unsettled && !s.Settled()
}

// Settle gives the layout. declared is the order the study gives, or
// [Unsettled]. said is what was settled by the values themselves, for the
// user, or "". The error, where no layout can be settled, says why.
func (s *Survey) Settle(declared Order) (l Layout, said string, err error) {
	for _, k := range []Kind{Calendar, Serial, Epoch} {
		if s.kinds[k] > 0 && (l.Kind == Any || s.kinds[k] > s.kinds[l.Kind]) {
			l.Kind = k
		}
	}
	defer func() {
		if err == nil {
			l.Months, said, err = s.settleMonths(said)
		}
	}()
	if e := s.turned(); e.line != 0 {
		return l, "", fmt.Errorf("line %d: %q is text, while other dates are a spreadsheet's numbers, whose days never go above 12: it has taken the day for the month in those; read the file into the spreadsheet anew, with this column as text", e.line, e.text)
	}
	switch l.Kind {
	case Any:
		if l, said, err, ok := s.short.settle(declared); ok {
			return l, said, err
		}
		if e := s.first[TwoDigitYear]; e.line != 0 {
			return l, "", fmt.Errorf("line %d: %q has a year of two digits; write all four", e.line, e.text)
		}
		if e := s.first[NotATime]; e.line != 0 {
			return l, "", fmt.Errorf("line %d: %q is not a date and time, nor is any other value of the column", e.line, e.text)
		}
		return l, "", nil
	case Serial:
		said = "times are a spreadsheet's day numbers"
	case Epoch:
		said = "times are seconds since 1970, UTC"
	}
	l.Order = declared
	if declared != Unsettled || !s.yearLast {
		return l, said, nil
	}
	l.Order, said, err = s.order()
	return l, said, err
}

// turned is a date that a spreadsheet left as text, as its day is above 12, among
// such as it took the wrong way round; its line is 0 where none shows it.
func (s *Survey) turned() example {
	const enough = 3
	if s.kinds[Serial] < enough || s.kinds[Calendar] < enough || s.serialBig || s.unsure.line != 0 {
		return example{}
	}
	if s.dayFirst.line != 0 {
		return s.dayFirst
	}
	return s.monFirst
}

// settleMonths tells the language of names that two languages give to two months,
// by the other names, and adds to said what it took.
func (s *Survey) settleMonths(said string) (Months, string, error) {
	names := s.months &^ unsureMonth
	switch {
	case s.months&unsureMonth == 0 && names != Polish|Croatian:
		return names, said, nil
	case s.months == 0 || s.months&unsureMonth == 0:
		return 0, said, nil
	case names != Polish && names != Croatian:
		return 0, said, fmt.Errorf("line %d: %q names %v, and the other months do not tell which is meant", s.doubtful.line, s.doubtful.text, AmbiguousMonth)
	}
	if said != "" {
		said += "; "
	}
	said += fmt.Sprintf("the month of %q, on line %d, is read as %s", s.doubtful.text, s.doubtful.line, map[Months]string{Polish: "in Polish or Czech", Croatian: "in Croatian"}[names])
	return names, said, nil
}

// settle gives the layout of dates with a year of two digits; ok is false where
// it does not show itself.
func (d *shortDates) settle(declared Order) (l Layout, said string, err error, ok bool) {
	years, ok := d.years()
	if !ok && declared != Unsettled {
		years, ok = ShortLast, d.first.line != 0 // day or month come first, as the study says
	}
	if !ok {
		return l, "", nil, false
	}
	l = Layout{Kind: Calendar, Order: declared, Years: years}
	said = fmt.Sprintf("years have two digits, as line %d shows: %s is read as", d.first.line, d.first.text)
	if years == ShortLast && declared == Unsettled && (d.dayFirst.line != 0 || d.monFirst.line != 0 || d.unsure.line != 0) {
		s := Survey{yearLast: true, dayFirst: d.dayFirst, monFirst: d.monFirst, unsure: d.unsure}
		var order string
		if l.Order, order, err = s.order(); err != nil {
			return l, "", err, true
		}
		said = order + "; " + said
	}
	if r, fault := l.Parse([]byte(d.first.text)); fault == OK {
		said += " " + UTC.Format(r.Ms)[:10]
	}
	return l, said, nil, true
}

// order settles the order of dates with the year last from the values, and says
// which value did.
func (s *Survey) order() (o Order, said string, err error) {
	switch d, m := s.dayFirst, s.monFirst; {
	case d.line != 0 && m.line != 0:
		return o, "", fmt.Errorf("line %d has %q, which is day first, and line %d %q, which is month first; set date_order, and the others will be set aside", d.line, d.text, m.line, m.text)
	case d.line != 0:
		o = DayFirst
		said = fmt.Sprintf("dates are day first, as line %d shows: %s", d.line, d.text)
	case m.line != 0:
		o = MonthFirst
		said = fmt.Sprintf("dates are month first, as line %d shows: %s", m.line, m.text)
	default:
		e := s.unsure
		return o, "", fmt.Errorf("line %d: %q can be day first or month first, and so can every date of the file; set date_order = \"day first\" or \"month first\"", e.line, e.text)
	}
	return o, said, nil
}

// ParseOrder reads a study's date_order.
func ParseOrder(s string) (Order, error) {
	switch s {
	case "":
		return Unsettled, nil
	case "day first":
		return DayFirst, nil
	case "month first":
		return MonthFirst, nil
	}
	return Unsettled, fmt.Errorf("date_order %q: write \"day first\" or \"month first\"", s)
}
