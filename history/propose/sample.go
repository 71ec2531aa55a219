package propose

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// sample is what the first records of a table show.
type sample struct {
	file    table.File
	name    string
	header  []string
	delim   byte
	records int
	columns []sampleColumn
	textTag int   // the column of tags in plain text
	said    *Said // by the user; nil where nothing is
	met     int   // of several columns of codes that with the tags of the fish, counted from 1
	found         // its layout
}

// sampleColumn is a column's first values.
type sampleColumn struct {
	name                string
	filled, tags, times int
	numbers, fractions  int
	values              map[string]int
	absolute            int
	dateOnly            int
	clocks              int // times of day without a date
	sumMs               int64
	hours               uint32 // the hours of day met, as bits
	survey              clock.Survey
	commas, points      int  // decimal marks of numbers
	part                bool // of a joined column
}

// sampleRecords is how many records of a table are looked at.
const sampleRecords = 5000

// mostColumns are those of the widest table that is looked at: each column is
// compared with the others.
const mostColumns = 2000

// shortest leaves out of a reading what the file tells by itself.
func shortest(ctx context.Context, f table.File, x found) study.Reading {
	same := func(how study.Reading) bool {
		f.Reading = how
		b, err := table.OpenBlocks(ctx, f, false)
		if err != nil {
			return false
		}
		defer b.Close()
		f.Reading = x.reading
		want, err := table.OpenBlocks(ctx, f, false)
		if err != nil {
			return false
		}
		defer want.Close()
		return b.Delimiter == want.Delimiter && slices.Equal(b.Names, want.Names)
	}
	if x.reading.Widths == nil && !x.reading.NoHeader() {
		if bare := (study.Reading{Sheet: x.reading.Sheet, Encoding: x.reading.Encoding}); same(bare) {
			return bare
		}
	}
	if less := x.reading; less.Delimiter != study.Blanks {
		if less.Delimiter = ""; same(less) {
			return less
		}
	}
	return x.reading
}

// takeSample looks at the first records of a table.
func takeSample(ctx context.Context, f table.File) (*sample, error) {
	return takeRecords(ctx, f, sampleRecords, func([]string) bool { return true })
}

// takeRecords looks at the first records of a table that keep takes.
func takeRecords(ctx context.Context, f table.File, most int, keep func(fields []string) bool) (*sample, error) {
	b, err := table.OpenBlocks(ctx, f, false)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	if len(b.Names) > mostColumns {
		return nil, fmt.Errorf("it has %d columns, and none of more than %d is looked at: leave out those that are not needed", len(b.Names), mostColumns)
	}
	t := &sample{file: f, name: f.Name, header: b.Names, delim: b.Delimiter, columns: make([]sampleColumn, len(b.Names))}
	for i, name := range t.header {
		t.columns[i] = sampleColumn{name: name, values: map[string]int{}}
	}
	return t, eachRecord(ctx, b, func(fields []string, line int) bool {
		if !keep(fields) {
			return true
		}
		t.records++
		for i := range t.columns {
			t.columns[i].add(strings.TrimSpace(fields[i]), line)
		}
		return t.records < most
	})
}

// eachRecord gives each sound record of a table, with its line, until f says
// enough.
func eachRecord(ctx context.Context, b *table.Blocks, f func(fields []string, line int) bool) error {
	split := whole{Splitter: dialect.Splitter{Delimiter: b.Delimiter}}
	fields := make([]string, len(b.Names))
	// named tells whether all columns from n on have no name.
	named := func(n int) bool {
		return !slices.ContainsFunc(b.Names[n:], func(s string) bool { return s != "" })
	}
	return b.Each(ctx, func(x table.Block) (stop bool, err error) {
		return x.Lines(func(line []byte, number int) bool {
			cut, ok := split.take(line, len(fields))
			if !ok || cut.Count() < len(fields) && !named(cut.Count()) {
				return false
			}
			for i := range fields {
				if fields[i] = ""; i < cut.Count() {
					fields[i] = string(cut.At(i))
				}
			}
			for i := len(fields); i < cut.Count(); i++ {
				if len(bytes.TrimSpace(cut.At(i))) > 0 {
					return false
				}
			}
			return !f(fields, number)
		}), nil
	})
}

var (
	dottedTime  = regexp.MustCompile(`^([01]?\d|2[0-3])\.[0-5]\d(\.[0-5]\d)?$`)
	hyphenTime  = regexp.MustCompile(`^([01]?\d|2[0-3])-[0-5]\d-[0-5]\d$`)
	compactTime = regexp.MustCompile(`^([01]\d|2[0-3])[0-5]\d([0-5]\d)?$`)
)

func (c *sampleColumn) add(cell string, line int) {
	if table.IsMissing(cell) {
		return
	}
	c.filled++
	c.values[cell]++
	if isTagCode(cell) {
		c.tags++
	}
	if v, ok := readTime(cell); ok {
		c.times++
		c.sumMs += v.Ms / 1000
		if v.Absolute {
			c.absolute++
		}
		if v.DateOnly {
			c.dateOnly++
		}
		if !v.DateOnly {
			c.hours |= 1 << (v.Ms / 3_600_000 % 24)
		}
		c.survey.Add([]byte(cell), line)
	}
	if isTimeOfDay(cell) {
		c.clocks++
		if v, fault := (clock.Layout{}).Parse([]byte("2025-07-01 " + cell)); fault == clock.OK {
			c.hours |= 1 << (v.Ms / 3_600_000 % 24)
		}
	} else if _, ok := clock.DayFraction(cell); ok && hinted(c.name, clockWords) {
		c.clocks++ // as a spreadsheet keeps it
	} else if (dottedTime.MatchString(cell) || hyphenTime.MatchString(cell)) && hinted(c.name, clockWords) {
		c.clocks++
	}
	v, ok := table.ParseNumber(cell)
	if ok && strings.Contains(cell, ".") {
		c.points++
	}
	if !ok {
		if v, ok = table.ParseNumber(strings.Replace(cell, ",", ".", 1)); ok {
			c.commas++
		}
	}
	if ok {
		c.numbers++
		if v != math.Trunc(v) {
			c.fractions++
		}
	}
}

// mostly tells whether nearly all filled cells are of a kind.
func (c *sampleColumn) mostly(n int) bool {
	return c.filled > 0 && float64(n) >= 0.8*float64(c.filled)
}

// example is a value of a column, the first in order; "" where there is none.
func (c *sampleColumn) example() string {
	if len(c.values) == 0 {
		return ""
	}
	return slices.Min(slices.Collect(maps.Keys(c.values)))
}

// isTime: calendar times, or numbers that are days or seconds throughout. A
// column of plain numbers of five digits is no column of times unless it has
// fractions of days, or is called one.
func (c *sampleColumn) isTime() bool {
	if !c.mostly(c.times) || c.mostly(c.tags) || c.part {
		return false
	}
	return !c.mostly(c.numbers) || c.dateOnly < c.times/2 || c.eightDigits() || hinted(c.name, timeWords) || hinted(c.name, releaseWords)
}

// eightDigits tells whether all values are dates such as 20250503.
func (c *sampleColumn) eightDigits() bool {
	n := 0
	for v := range c.values {
		if len(v) == 8 && (v[:2] == "19" || v[:2] == "20") {
			n++
		}
	}
	return n*10 >= len(c.values)*9 && c.mostly(c.times)
}

// named tells whether a column's name holds one of the words.
func named(name string, words ...string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
}

// tagColumn is the column of tags; -1 where there is none. Of several columns of
// codes it is that with most of them: the number of a reader, as long as a tag,
// is always the same.
func (t *sample) tagColumn() int {
	if i, ok := t.told("tag"); ok {
		return i
	}
	if t.met > 0 {
		return t.met - 1
	}
	best := -1
	for i := range t.columns {
		if c := &t.columns[i]; c.mostly(c.tags) && (best < 0 || len(c.values) > len(t.columns[best].values)) {
			best = i
		}
	}
	return best
}

// shared is how many values two columns share, where both could be tags: not
// times, nor numbers unless called a tag.
func shared(a, b *sampleColumn) int {
	for _, c := range []*sampleColumn{a, b} {
		if c.isTime() || c.mostly(c.numbers) && !named(c.name, "tag", "code") {
			return 0
		}
	}
	n := 0
	for v := range a.values {
		if b.values[v] > 0 {
			n++
		}
	}
	return n
}

// columns are the indices of the columns of an array file; -1 where none.
// date is there where it stands apart from the time of day.
type columns struct{ tag, site, antenna, time, date int }

// role is one of our columns of an array file.
type role struct {
	ours string
	at   func(*columns) *int
}

var columnRoles = []role{
	{"tag", func(c *columns) *int { return &c.tag }},
	{"site", func(c *columns) *int { return &c.site }},
	{"antenna", func(c *columns) *int { return &c.antenna }},
	{"date", func(c *columns) *int { return &c.date }},
	{"time", func(c *columns) *int { return &c.time }},
}

// dates is the column that holds the dates.
func (t *sample) dates(c columns) *sampleColumn {
	if c.date >= 0 {
		return &t.columns[c.date]
	}
	return &t.columns[c.time]
}

// layout is how the times of an array file are written, in an order of dates or
// as they tell themselves, day first where they do not.
func (t *sample) layout(c columns, order clock.Order) clock.Layout {
	l, _, err := t.dates(c).survey.Settle(order)
	if err != nil {
		l, _, _ = t.dates(c).survey.Settle(clock.DayFirst)
	}
	if c.date >= 0 {
		l.Kind = clock.Calendar // as AppendJoined writes it
	}
	return l
}

// when is the time of a record.
func (c *columns) when(fields []string, layout clock.Layout) (ms int64, ok bool) {
	when := []byte(fields[c.time])
	if c.date >= 0 {
		when = clock.AppendJoined(nil, []byte(fields[c.date]), when, clock.IsPointTime(when))
	}
	at, fault := layout.Parse(when)
	return at.Ms, fault == clock.OK
}

// told is the column that the user gave a role, -1 for none; ok tells whether a
// column that the table has, or none, was named.
func (t *sample) told(role string) (i int, ok bool) {
	if t.said == nil {
		return -1, false
	}
	name, ok := t.said.Columns[role]
	if !ok || name == "" {
		return -1, ok
	}
	i = slices.Index(t.header, name)
	return i, i >= 0
}

// kind is what the user said a table is.
func (t *sample) kind() Kind {
	if t.said == nil {
		return Guessed
	}
	return t.said.Kind
}

// mayBe tells whether a table may be of the fish or of sightings, by what the
// user says.
func (t *sample) mayBe() bool { return t.kind() != Unused && t.kind() != Recaptures }

// sameSaid tells whether two tables were said to be read alike.
func sameSaid(a, b *sample) bool {
	x, y := a.said, b.said
	if x == nil || y == nil {
		return x == y
	}
	return x.Site == y.Site && x.TimeZone == y.TimeZone && x.Order == y.Order && maps.Equal(x.Columns, y.Columns)
}

// named is the column that the user gave a role of ours, or else the one that is
// called so; -1 where there is none.
func (t *sample) named(role string) int {
	if i, ok := t.told(role); ok {
		return i
	}
	return slices.Index(t.header, role)
}

func sameReading(a, b *study.Reading) bool { return fmt.Sprint(*a) == fmt.Sprint(*b) }
