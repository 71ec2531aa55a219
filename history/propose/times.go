package propose

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
)

// spread is the share of a column's values that differ.
func (c *sampleColumn) spread() float64 { return float64(len(c.values)) / float64(max(1, c.filled)) }

// once is which share of the tags of a fish table differ at least, that no
// heading tells to be one.
const once = 0.9

// meanTime is the mean of its times, in seconds.
func (c *sampleColumn) meanTime() float64 { return float64(c.sumMs) / float64(max(1, c.times)) }

// hours are what a date without a time of day may be off.
const hours = 12 * 3600

// timeScore says how much a column is the time of a sighting, or of a release.
// What was read and what was loaded into a computer differ in how many values
// they have, and in which comes first.
func (t *sample) timeScore(i int, release bool) float64 {
	c := &t.columns[i]
	s := 4 * float64(c.times) / float64(max(1, t.records))
	hint := hinted(c.name, timeWords)
	if release {
		hint = hinted(c.name, releaseWords)
	}
	if hint {
		s += 3
	}
	if hinted(c.name, asideWords) && !hinted(c.name, releaseWords) {
		s -= 4
	}
	spread, clocked := c.spread(), c.dateOnly < c.times
	if k := t.clockOf(i, release); k >= 0 {
		spread, clocked = max(spread, t.columns[k].spread()), true
	}
	if clocked {
		s += 2
		if !release {
			s += 3
		}
	}
	if !release {
		s += 3 * spread
	}
	for k := range t.columns {
		o := &t.columns[k]
		if k == i || !o.isTime() {
			continue
		}
		// A read comes before what is done with it; a release after the capture.
		if d := c.meanTime() - o.meanTime(); d < -hours && !release || d > hours && release {
			s++
		}
	}
	return s
}

// bestTime is the likeliest column of times; -1 where there is none.
func (t *sample) bestTime(release bool) int {
	for _, role := range map[bool][]string{true: {"released"}, false: {"time", "date"}}[release] {
		if i, ok := t.told(role); ok {
			return i
		}
	}
	for i, j := range t.reading.Joins {
		if !j.Tag && t.columns[i].isTime() {
			return i
		}
	}
	best, most := -1, 0.0
	for i := range t.columns {
		if !t.columns[i].isTime() {
			continue
		}
		if s := t.timeScore(i, release); best < 0 || s > most {
			best, most = i, s
		}
	}
	return best
}

// timeColumn is the likeliest column of times of sightings.
func (t *sample) timeColumn() int { return t.bestTime(false) }

// releaseColumn is the likeliest column of release times of the fish table.
func (t *sample) releaseColumn() int { return t.bestTime(true) }

// clockOf is the column of the time of day that goes with a column of dates
// alone; -1 where there is none.
func (t *sample) clockOf(date int, release bool) int {
	if i, ok := t.told("clock"); ok && i != date {
		return i
	}
	if x := &t.columns[date]; x.dateOnly < x.times {
		return -1
	}
	best, most := -1, -1.0
	for i := range t.columns {
		c := &t.columns[i]
		if i == date || !c.mostly(c.clocks) || c.mostly(c.times) {
			continue
		}
		s := c.spread()
		if release {
			s = 0
			if hinted(c.name, releaseWords) {
				s += 4
			}
		}
		if hinted(c.name, asideWords) && !hinted(c.name, releaseWords) {
			s -= 3
		}
		switch i - date {
		case 1:
			s += 2
		case -1, 2:
			s++
		}
		if best < 0 || s > most {
			best, most = i, s
		}
	}
	if best < 0 {
		best = t.dottedClock(date)
	}
	if best < 0 {
		best = slices.IndexFunc(t.columns, func(c sampleColumn) bool {
			return hinted(c.name, clockWords) && c.compactClock() && c.filled*5 >= t.records*4
		})
	}
	return best
}

// compactClock tells whether a column's values are times of day in figures
// alone, as 143205 or 1432, and all of one kind: where a spreadsheet dropped
// noughts in front, 1432 may be a quarter past midnight.
func (c *sampleColumn) compactClock() bool {
	long, short := 0, 0
	for v := range c.values {
		switch {
		case v == c.name: // a header further down
		case !compactTime.MatchString(v):
			return false
		case len(v) == 6:
			long++
		default:
			short++
		}
	}
	return (long == 0) != (short == 0)
}

// dottedClock is the column whose values are all times of day with a point, as
// 20.30, and differ; of several that beside the dates.
func (t *sample) dottedClock(date int) int {
	best := -1
	for i := range t.columns {
		c := &t.columns[i]
		n, long := 0, 0
		for v := range c.values {
			if !dottedTime.MatchString(v) {
				continue
			}
			if n++; slices.Contains([]byte("345"), v[len(v)-2]) {
				long++
			}
		}
		// One in twenty may be a heading, or none.
		if i != date && n >= 10 && n*20 >= len(c.values)*19 && long > n/5 && c.filled*5 >= t.records*4 && (best < 0 || i == date+1) {
			best = i
		}
	}
	return best
}

// needs says which column a table lacks that is said to be of fish or sightings;
// "" if none.
func (t *sample) needs() string {
	tag, told := t.told("tag")
	switch kind := t.kind(); {
	case kind != Fish && kind != Sightings:
		return ""
	case told && tag < 0:
		return fmt.Sprintf("%s: say which of its columns holds the tags: %s", t.name, strings.Join(t.header, ", "))
	case t.timeColumn() < 0 && t.releaseColumn() < 0:
		return fmt.Sprintf("%s: say which of its columns holds the times: %s", t.name, strings.Join(t.header, ", "))
	}
	return ""
}

// dated is a table whose dates have the year last, or may have: one of the fish,
// or a group of array files.
type dated struct {
	order clock.Order
	// open: some file of it leaves the order open, so that the study must say
	// it; settled: another file of it, or this, shows it.
	open, settled bool
}

// look settles the order from what the dates of a file show.
func (d *dated) look(c *sampleColumn) {
	l, _, err := c.survey.Settle(clock.Unsettled)
	switch {
	case err != nil:
		d.open = true
	case l.Order != clock.Unsettled && !d.settled:
		d.order, d.settled = l.Order, true
	}
}

// said takes the order that the user says.
func (d *dated) said(t *sample) {
	if t.said != nil && t.said.Order != clock.Unsettled {
		d.order, d.settled, d.open = t.said.Order, true, true
	}
}
