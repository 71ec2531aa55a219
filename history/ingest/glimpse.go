package ingest

import (
	"context"
	"errors"
	"regexp"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
	"example.org/unseen/history/tagcode"
)

// glimpse is what the first records of a table show.
type glimpse struct {
	path, name string
	header     []string
	delim      byte
	records    int
	columns    []glimpseColumn
	textTag    int // the column of tags in plain text
}

// glimpseColumn is a column's first values.
type glimpseColumn struct {
	name                string
	filled, tags, times int
	numbers             int
	values              map[string]int
	absolute            int
	dateOnly            int
	clocks              int // times of day without a date
	survey              clock.Survey
	commas              int
}

// glimpseRecords is how many records of a table are looked at.
const glimpseRecords = 5000

func look(ctx context.Context, f arrayFile) (*glimpse, error) {
	t := &glimpse{path: f.path, name: f.name}
	err := eachFields(ctx, f.path, func(names []string, delim byte) {
		t.header, t.delim = names, delim
		t.columns = make([]glimpseColumn, len(names))
		for i := range t.columns {
			t.columns[i] = glimpseColumn{name: names[i], values: map[string]int{}}
		}
	}, func(fields []string, line int) bool {
		t.records++
		for i := range t.columns {
			t.columns[i].add(strings.TrimSpace(fields[i]), line)
		}
		return t.records < glimpseRecords
	})
	return t, err
}

// eachFields gives the header and then each sound record of a table, until f
// says enough.
func eachFields(ctx context.Context, path string, head func(names []string, delim byte), f func(fields []string, line int) bool) error {
	if isWorkbook(path) {
		t, err := read.OpenContext(ctx, path)
		if err != nil {
			return err
		}
		defer t.Close()
		head(t.Header, ',')
		fields := make([]string, len(t.Header))
		for t.Next() {
			for i := range fields {
				fields[i] = t.Field(i)
			}
			if !f(fields, t.Line()) {
				return nil
			}
		}
		return nil
	}
	s, err := openSource(ctx, path, false)
	if err != nil {
		return err
	}
	defer s.shut()
	var x splitter
	var fields []string
	err = newBlocks(s).each(ctx, func(data []byte, line int, tooLong bool) (stop bool, err error) {
		if tooLong {
			return false, nil
		}
		if fields == nil {
			first, rest, lines := header(data)
			if first == nil {
				return false, nil
			}
			x.delim = delimiterOf(first)
			names, err := splitHeader(first, x.delim)
			if err != nil {
				return true, err
			}
			head(names, x.delim)
			fields = make([]string, len(names))
			data, line = rest, line+lines
		}
		for ; len(data) > 0; line++ {
			var record []byte
			record, data = cutLine(data)
			if isBlank(record) {
				continue
			}
			cut, ok := x.any(record)
			if !ok || cut.count() != len(fields) {
				continue
			}
			for i := range fields {
				fields[i] = string(cut.at(i))
			}
			if !f(fields, line) {
				return true, nil
			}
		}
		return false, nil
	})
	if err == nil && fields == nil {
		err = errors.New("the file is empty")
	}
	return err
}

var timeOfDay = regexp.MustCompile(`^\d{1,2}:\d\d(:\d\d(\.\d+)?)?$`)

func (c *glimpseColumn) add(cell string, line int) {
	if read.IsMissing(cell) {
		return
	}
	c.filled++
	c.values[cell]++
	if _, err := tagcode.Parse(cell); err == nil {
		c.tags++
	}
	if v, fault := (clock.Layout{Order: clock.DayFirst}).Parse([]byte(cell)); fault == clock.OK || fault == clock.WrongOrder {
		c.times++
		if v.Absolute {
			c.absolute++
		}
		if v.DateOnly {
			c.dateOnly++
		}
		c.survey.Add([]byte(cell), line)
	}
	if timeOfDay.MatchString(cell) {
		c.clocks++
	} else if _, ok := dayFraction(cell); ok && named(c.name, "time", "hour", "clock") {
		c.clocks++ // as a spreadsheet keeps it
	}
	if _, ok := read.ParseNumber(cell); ok {
		c.numbers++
	} else if _, ok := read.ParseNumber(strings.Replace(cell, ",", ".", 1)); ok {
		c.numbers++
		c.commas++
	}
}

// mostly tells whether nearly all filled cells are of a kind.
func (c *glimpseColumn) mostly(n int) bool {
	return c.filled > 0 && float64(n) >= 0.8*float64(c.filled)
}

// isTime: calendar times, or numbers that are days or seconds throughout. A
// column of plain numbers of five digits is no column of times unless it has
// fractions of days, or is called one.
func (c *glimpseColumn) isTime() bool {
	if !c.mostly(c.times) || c.mostly(c.tags) {
		return false
	}
	return !c.mostly(c.numbers) || c.dateOnly < c.times/2 || named(c.name, "date", "time", "released", "release")
}

// named tells whether a column's name holds one of the words.
func named(name string, words ...string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
}

// tagColumn is the column of tags; -1 where there is none.
func (t *glimpse) tagColumn() int {
	best := -1
	for i := range t.columns {
		if c := &t.columns[i]; c.mostly(c.tags) && (best < 0 || c.tags > t.columns[best].tags) {
			best = i
		}
	}
	return best
}

// timeColumn is the likeliest column of times.
func (t *glimpse) timeColumn(words ...string) int {
	best, most := -1, -1
	for i := range t.columns {
		c := &t.columns[i]
		if !c.isTime() {
			continue
		}
		score := c.times
		if c.dateOnly < c.times {
			score += glimpseRecords // a time of day tells more than a date
		}
		if named(c.name, words...) {
			score += 2 * glimpseRecords
		}
		if score > most {
			best, most = i, score
		}
	}
	return best
}

// shared is how many values two columns share, where both could be tags: not
// times, nor numbers unless called a tag.
func shared(a, b *glimpseColumn) int {
	for _, c := range []*glimpseColumn{a, b} {
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

// dates is the column that holds the dates.
func (t *glimpse) dates(c columns) *glimpseColumn {
	if c.date >= 0 {
		return &t.columns[c.date]
	}
	return &t.columns[c.time]
}
