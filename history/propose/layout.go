package propose

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagcode"
)

// found is how a table seems to be laid out.
type found struct {
	reading study.Reading
	names   []string // in the header, "" for one without; nil where there is none
	above   []string // what stands above the header, by line
	until   int      // how many lines do
}

// cellKind is what a cell may be by itself.
type cellKind uint8

const (
	other cellKind = iota
	number
	timeDay // of a day
	date
	moment // with a time of day
	tag
)

// kindOf tells what a cell may be.
func kindOf(cell string) cellKind {
	if isTagCode(cell) {
		return tag
	}
	if isTimeOfDay(cell) {
		return timeDay
	}
	_, isNumber := table.ParseNumber(strings.Replace(cell, ",", ".", 1))
	if v, ok := readTime(cell); ok && !(isNumber && v.DateOnly && len(cell) != 8) {
		if v.DateOnly {
			return date
		}
		return moment
	}
	if isNumber {
		return number
	}
	return other
}

// isTagCode tells a code of ISO 11784 from times, whose digits may be as many:
// those with signs between them, and milliseconds since 1970.
func isTagCode(cell string) bool {
	if _, err := tagcode.Parse(cell); err != nil {
		return false
	}
	if len(cell) == 13 && cell[0] == '1' && strings.Trim(cell, "0123456789") == "" {
		return false
	}
	if strings.Trim(cell, "0123456789") == "" {
		return true
	}
	_, isTime := readTime(cell)
	return !isTime
}

// wordedTime begins with what stands before a time of day, or ends with the half
// of the day.
var wordedTime = regexp.MustCompile(`(?i)^(kl|klo|godz|um)\b|[ap]\.? ?m\.?$`)

// isTimeOfDay tells a time of day by itself, however it is written but with a
// point or a hyphen alone, or in figures alone.
func isTimeOfDay(cell string) bool {
	if !strings.ContainsAny(cell, "0123456789") || !strings.ContainsAny(cell, ":hH時时") && !wordedTime.MatchString(cell) {
		return false
	}
	return readsAsTimeOfDay(cell)
}

// readsAsTimeOfDay tells whether a value is a time of day where it stands beside
// a date. The day is one in summer, when the name of a zone says less.
func readsAsTimeOfDay(cell string) bool {
	v, fault := (clock.Layout{}).Parse([]byte("2025-07-01 " + cell))
	return fault == clock.OK && !v.DateOnly
}

// readTime reads a time however it may be written.
func readTime(cell string) (v clock.Reading, ok bool) {
	for _, years := range []clock.Years{clock.FourDigits, clock.ShortLast} {
		v, fault := (clock.Layout{Order: clock.DayFirst, Years: years, Months: clock.Polish}).Parse([]byte(cell))
		if fault == clock.OK || fault == clock.WrongOrder || fault == clock.AmbiguousOrder {
			if fault != clock.OK {
				v.DateOnly = !strings.ContainsAny(cell, ":hH") && !strings.Contains(strings.TrimSpace(cell), " ")
			}
			return v, true
		}
	}
	return v, false
}

// row is a line taken apart, with its number.
type row struct {
	line   int
	fields int // with the empty ones at the end, which cells leaves out
	cells  []string
	kinds  []cellKind
}

func newRow(line int, cells []string) row {
	r := row{line: line, fields: len(cells)}
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	for _, c := range cells {
		c = strings.TrimSpace(c)
		r.cells, r.kinds = append(r.cells, c), append(r.kinds, kindOf(c))
	}
	return r
}

func (r *row) filled() (n int) {
	for _, c := range r.cells {
		if c != "" {
			n++
		}
	}
	return n
}

// weight says how much a row looks like a record: 2 with a tag and a time, 1
// with one of them.
func (r *row) weight() (w int) {
	if slices.Contains(r.kinds, tag) {
		w++
	}
	if slices.ContainsFunc(r.kinds, func(k cellKind) bool { return k == date || k == moment }) {
		w++
	}
	return w
}

// parted are lines taken apart in one way.
type parted struct {
	delimiter string
	widths    []int
	rows      []row
	score     int
	width     int // fields of most records, without empty ones at the end
	most      int // and with them: no sound record has more, nor a header
}

// settle finds how many fields the records have: as many as most of them, or as
// a good part of them that have more, for empty ones at the end are not counted.
// The last columns may be empty in nearly all, as those of fish removed and of
// remarks are: what the header may name goes by the fields that the lines have.
func (p *parted) settle() {
	weight, whole := map[int]int{}, map[int]int{}
	for i := range p.rows {
		if r := &p.rows[i]; len(r.cells) > 1 {
			w := r.weight()
			weight[len(r.cells)] += w
			whole[r.fields] += w
		}
	}
	for n, w := range weight {
		if w > weight[p.width] || w == weight[p.width] && n > p.width {
			p.width = n
		}
	}
	for n, w := range weight {
		if n > p.width && w*5 > weight[p.width] {
			p.width = n
		}
	}
	for n, w := range whole {
		if n >= p.width && (w > whole[p.most] || w == whole[p.most] && n > p.most) {
			p.most = n
		}
	}
	p.most = max(p.most, p.width)
	for n, w := range weight {
		if n <= p.most {
			p.score += w
		}
	}
}

// lookAt tells how a table is laid out; ok is false where nothing in it looks
// like records of tags and times, so that it is to be read as usual.
func lookAt(x *table.Look) (f found, ok bool) {
	var best parted
	if x.Rows != nil {
		for i, cells := range x.Rows {
			best.rows = append(best.rows, newRow(i+1, cells))
		}
		best.settle()
		for i := range best.rows { // a row of a workbook ends with its last filled cell
			best.most = max(best.most, len(best.rows[i].cells))
		}
		if x.Sheets > 1 {
			f.reading.Sheet = x.Sheet
		}
	} else {
		best = bestParted(x.Lines)
	}
	if best.score == 0 {
		return f, false
	}
	f.reading.Delimiter, f.reading.Widths = best.delimiter, best.widths
	f.header(&best)
	for i := range f.until {
		if x.Rows != nil {
			f.above = append(f.above, strings.Join(x.Rows[i], ";"))
		} else {
			f.above = append(f.above, x.Lines[i])
		}
	}
	return f, true
}

// bestParted takes lines apart in every way and gives the one that shows most
// records.
func bestParted(lines []string) parted {
	var best parted
	for _, d := range []string{"\t", ";", ",", "|", "#", "~", "^", "&", "*"} {
		p := parted{delimiter: d}
		split := whole{Splitter: dialect.Splitter{Delimiter: d[0]}}
		for i, line := range lines {
			if cut, ok := split.take([]byte(line), -1); ok {
				var cells []string
				for k := range cut.Count() {
					cells = append(cells, string(cut.At(k)))
				}
				p.rows = append(p.rows, newRow(i+1, cells))
			}
		}
		if p.settle(); p.score > best.score {
			best = p
		}
	}
	// Blanks part dates from times, and names: only where nothing else parts.
	if p := fixedWidth(lines); p.score*2 > best.score*3 {
		best = p
	}
	p := parted{delimiter: study.Blanks}
	for i, line := range lines {
		p.rows = append(p.rows, newRow(i+1, strings.Fields(line)))
	}
	if p.settle(); p.score*2 > best.score*3 || best.widths != nil && p.steady() && p.score*10 >= best.score*9 {
		best = p
	}
	return best
}

// whole takes lines apart of which a field in quotes may go over several, as those
// of remarks do.
type whole struct {
	dialect.Splitter
	open []byte // the lines of the record that is not at its end
	n    int    // how many
}

// take takes the record apart that ends with a line; ok is false where none does.
// A sound line of as many fields as there should be is a record by itself.
func (w *whole) take(line []byte, fields int) (cut dialect.Fields, ok bool) {
	if w.n > 0 {
		w.open = append(append(w.open, '\n'), line...)
		if cut, ok = w.Line(w.open); ok {
			w.n = 0
			return cut, true
		}
		w.n++
	}
	cut, ok = w.Line(line)
	switch {
	case w.n > maxLines || ok && w.n > 0 && cut.Count() == fields:
		w.n = 0
	case w.n > 0:
		return cut, false
	case !ok && bytes.Count(line, []byte{'"'})%2 == 1:
		w.open, w.n = append(w.open[:0], line...), 1
	}
	return cut, ok
}

// maxLines is how many lines a record has at most.
const maxLines = 20

// steady tells whether every line from the header on has as many fields.
func (p *parted) steady() bool {
	h := p.first() - 1
	if h < 0 {
		return false
	}
	for _, r := range p.rows[h:] {
		if len(r.cells) != p.width && len(r.cells) > 0 {
			return false
		}
	}
	return true
}

// first is the index of the first record; len of the rows without any.
func (p *parted) first() int {
	best := 0
	for i := range p.rows {
		best = max(best, p.rows[i].weight())
	}
	for i := range p.rows {
		if r := &p.rows[i]; r.weight() == best && len(r.cells) > 1 && len(r.cells) <= p.most {
			return i
		}
	}
	return len(p.rows)
}

// units are what stands in a line of units below the header.
var units = []string{"mm", "cm", "m", "g", "kg", "v", "°c", "c", "s", "h", "min", "db", "dbm", "code", "text", "dec", "hex", "id", "no", "nr", "utc", "local", "iso", "date", "time", "string", "int", "float", "-", "—", "–"}

// isUnits tells whether a row tells units rather than names: most of its cells
// are some, or patterns of dates, or stand in brackets.
func (r *row) isUnits() bool {
	n := 0
	for _, c := range r.cells {
		c = strings.ToLower(c)
		bare := strings.Trim(c, "[]() ")
		pattern := bare != "" && strings.Trim(bare, "ymdhjats:.-/ ") == "" && strings.ContainsAny(bare, "ymdhja") && len(bare) > 3
		if c != "" && (bare != c || slices.Contains(units, bare) || pattern) {
			n++
		}
	}
	return n > 0 && n*2 > r.filled()
}

// isHeader tells whether a row may name the columns.
func (p *parted) isHeader(r *row) bool {
	if r.filled() < 2 || r.filled()*2 < p.width || len(r.cells) > p.most+1 || strings.HasPrefix(r.cells[0], "===") {
		return false
	}
	words := 0
	for i, c := range r.cells {
		switch r.kinds[i] {
		case tag, moment, date, timeDay:
			return false
		case other:
			if strings.IndexFunc(c, unicode.IsLetter) >= 0 {
				words++
			}
		}
	}
	return words*2 > r.filled()
}

// header finds the line or lines that name the columns: the last one above the
// first record that is none of units.
func (f *found) header(p *parted) {
	first := p.first()
	h := first - 1
	// Below it may stand units, blank lines, or a few words more.
	for ; h >= 0; h-- {
		if r := &p.rows[h]; p.isHeader(r) && !(r.isUnits() && h > 0 && p.isHeader(&p.rows[h-1])) {
			break
		}
		if first-h > 4 {
			h = -1
			break
		}
	}
	until := 0
	if first < len(p.rows) {
		until = p.rows[first].line - 1
	}
	if h >= 0 && p.isHeader(&p.rows[h]) {
		until = p.rows[h].line - 1
		f.names = p.rows[h].cells
		f.reading.HeaderLine = []int{p.rows[h].line}
		if h > 0 && p.rows[h-1].line == p.rows[h].line-1 && p.rows[h-1].isUpper(&p.rows[h]) {
			until = p.rows[h-1].line - 1
			f.reading.HeaderLine = []int{p.rows[h-1].line, p.rows[h].line}
			f.names = table.JoinNames(p.rows[h-1].cells, p.rows[h].cells)
		}
	} else {
		f.reading.HeaderLine = []int{0}
	}
	f.until = until
	if twice(f.names) != "" {
		f.until = f.reading.HeaderLine[len(f.reading.HeaderLine)-1]
		f.reading.HeaderLine = []int{0}
	}
}

// isUpper tells whether a row stands above another as one of merged cells: it
// names what that one leaves without a name, or holds several names with cells
// between them that have none.
func (r *row) isUpper(low *row) bool {
	if r.filled() == 0 || len(r.cells) > len(low.cells)+3 || slices.ContainsFunc(r.kinds, func(k cellKind) bool { return k > number }) {
		return false
	}
	for i, c := range r.cells {
		if c != "" && (i >= len(low.cells) || low.cells[i] == "") {
			return true
		}
	}
	return r.filled() >= 2 && r.filled() < len(r.cells)
}

// twice is a name that stands twice; "" for none.
func twice(names []string) string {
	seen := map[string]bool{}
	for _, n := range names {
		if n != "" && seen[n] {
			return n
		}
		seen[n] = true
	}
	return ""
}

// fixedWidth takes lines apart where nearly all records have blanks, one below
// the other.
func fixedWidth(lines []string) parted {
	var records [][]rune
	for _, line := range lines {
		r := newRow(0, strings.Fields(line)) // a tag may hold a blank
		if r.weight() > 0 && !strings.Contains(line, "\t") {
			records = append(records, []rune(line))
		}
	}
	if len(records) < 5 {
		return parted{}
	}
	most := 0
	for _, r := range records {
		most = max(most, len(r))
	}
	blank := make([]bool, most+1)
	for i := range blank {
		blank[i] = true
		for _, r := range records {
			if i < len(r) && r[i] != ' ' {
				blank[i] = false
				break
			}
		}
	}
	starts := columnStarts(blank, records)
	p := parted{}
	for i, at := range starts[1:] {
		p.widths = append(p.widths, at-starts[i])
	}
	// The last is as wide as it takes.
	long := 0
	for _, line := range lines {
		long = max(long, len([]rune(line)))
	}
	const step = 20
	p.widths = append(p.widths, (max(0, long-starts[len(starts)-1])/step+1)*step)
	for i, line := range lines {
		p.rows = append(p.rows, newRow(i+1, cutAt([]rune(line), starts)))
	}
	p.settle()
	return p
}

func cutAt(line []rune, starts []int) (cells []string) {
	for i, at := range starts {
		end := len(line)
		if i+1 < len(starts) {
			end = min(end, starts[i+1])
		}
		cells = append(cells, string(line[min(at, len(line)):max(min(at, len(line)), end)]))
	}
	return cells
}

// columnStarts are where columns begin: behind two blanks or more, and behind
// one where that makes a tag or a time of what was none.
func columnStarts(blank []bool, records [][]rune) []int {
	starts := []int{0}
	for i := 1; i < len(blank); i++ {
		if !blank[i-1] || blank[i] {
			continue
		}
		if i == 1 || blank[i-2] || partsAt(records, starts[len(starts)-1], i, blank) {
			if strings.TrimSpace(string(records[0][:min(i, len(records[0]))])) == "" && len(starts) == 1 {
				continue // an indent
			}
			starts = append(starts, i)
		}
	}
	return starts
}

// partsAt tells whether most records have a tag, a time or a number on one side
// of a single blank, and neither as a whole.
func partsAt(records [][]rune, from, at int, blank []bool) bool {
	end := at
	for end < len(blank) && !blank[end] {
		end++
	}
	n := 0
	for _, r := range records {
		cut := func(a, b int) cellKind {
			return kindOf(strings.TrimSpace(string(r[min(a, len(r)):min(b, len(r))])))
		}
		if cut(from, end) == other && (cut(from, at) != other || cut(at, end) != other) {
			n++
		}
	}
	return n*2 > len(records)
}
