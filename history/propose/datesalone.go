package propose

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// askTimeOfDay notes, first of all, that the dates of array files have no time
// of day, and which column may hold it.
func (g *guess) askTimeOfDay(a *alike) {
	t := a.fullest()
	dates := &t.columns[a.col.time]
	if dates.dateOnly == 0 || !dates.mostly(dates.dateOnly) {
		return
	}
	said := fmt.Sprintf("%s: the dates of the detections have no time of day; each is taken to be at the midnight that begins its day", manyFiles(t.name, len(a.files)))
	if i := t.likelyClock(a.col.time, a.col.tag); i >= 0 {
		c := &t.columns[i]
		example := c.example()
		what := "if it does, "
		if !readsAsTimeOfDay(example) {
			what = "that is not understood: write it as 14:32:05, without a word or zone behind it, and then "
		}
		said += fmt.Sprintf(". The column %q may hold it, as %q; %ssay columns = { date = %q, time = %q }", c.name, example, what, dates.name, c.name)
	}
	g.doubts = slices.Insert(g.doubts, 0, said)
}

// manyFiles names a file, and how many are like it.
func manyFiles(name string, n int) string {
	if n == 1 {
		return name
	}
	return fmt.Sprintf("%d files such as %s", n, name)
}

// example is a value of a column, the first in order; "" where there is none.
func (c *sampleColumn) example() string {
	if len(c.values) == 0 {
		return ""
	}
	return slices.Min(slices.Collect(maps.Keys(c.values)))
}

// likelyClock is the column that may be the time of day of a column of dates,
// though it was not taken for it: one called a time, or in figures that could be
// one; -1 where there is none.
func (t *sample) likelyClock(date, tag int) int {
	best, most := -1, 0
	for i := range t.columns {
		c := &t.columns[i]
		if i == date || i == tag || c.isTime() || !strings.ContainsAny(c.example(), "0123456789時时") {
			continue
		}
		s := 0
		if hinted(c.name, clockWords) {
			s += 3
		}
		if c.compactClock() || c.mostly(c.clocks) {
			s += 2
		}
		if s > 0 && (i == date+1 || i == date-1) {
			s++
		}
		if hinted(c.name, asideWords) {
			s -= 2
		}
		if s > most {
			best, most = i, s
		}
	}
	return best
}

// whatTablesHold says of each table, alike ones together, whether it has tags
// and times, and what stands where times were looked for.
func (g *guess) whatTablesHold() string {
	type kind struct {
		why   string
		first *sample
		n     int
	}
	var kinds []*kind
	for _, t := range g.tables {
		why := "neither"
		switch tag, time := t.tagColumn() >= 0, t.timeColumn() >= 0; {
		case tag && time:
			why = "both"
		case tag:
			why = "no times"
		case time:
			why = "no tags"
		}
		i := slices.IndexFunc(kinds, func(k *kind) bool { return k.why == why && slices.Equal(k.first.header, t.header) })
		if i < 0 {
			i = len(kinds)
			kinds = append(kinds, &kind{why: why, first: t})
		}
		kinds[i].n++
	}
	var out []string
	for _, k := range kinds {
		switch not := k.first.whyNot(); {
		case k.why == "no times":
			k.why += k.first.insteadOfTimes()
		case strings.Contains(not, ":"): // it has a value to show
			k.why = not
		}
		out = append(out, fmt.Sprintf("%s (%s)", manyFiles(k.first.name, k.n), k.why))
	}
	return strings.Join(out, ", ")
}

// insteadOfTimes is what a table without times has that may be meant for them.
func (t *sample) insteadOfTimes() string {
	clockOnly, called := -1, -1
	for i := range t.columns {
		switch c := &t.columns[i]; {
		case c.filled == 0:
		case c.mostly(c.clocks) && clockOnly < 0:
			clockOnly = i
		case hinted(c.name, timeWords) && called < 0:
			called = i
		}
	}
	switch {
	case called >= 0:
		return fmt.Sprintf(": %q in the column %q is not understood; write dates as 2025-05-03", t.columns[called].example(), t.columns[called].name)
	case clockOnly >= 0:
		return fmt.Sprintf(": the column %q has a time of day without a date, as %q; add a column with the date, which is not read from a file's name", t.columns[clockOnly].name, t.columns[clockOnly].example())
	}
	return ""
}
