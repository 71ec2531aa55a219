package propose

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/tagcode"
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
		said += fmt.Sprintf(". The column %q may hold it, as %q; %ssay columns = { time = %s }", c.name, example, what, t.called(a.col.time, i))
	}
	g.doubts = slices.Insert(g.doubts, 0, said)
}

// manyFiles names a file, and how many are like it.
func manyFiles(name string, n int) string {
	if n == 1 {
		return name
	}
	return history.Say("%d files such as %s", n, name)
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
		case k.why == "both" && g.sitesAcross(k.first) != nil:
			k.why = fmt.Sprintf("both; one line a fish, and times in the columns %s: write each detection on its own line, with tag, site and time", strings.Join(g.sitesAcross(k.first), ", "))
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

// askTwice asks whether fish whose running number comes back in the fish table,
// with another tag, were tagged twice.
func (g *guess) askTwice() {
	for i := range g.fish.columns {
		c := &g.fish.columns[i]
		n, largest := len(c.values), 0
		var again []string
		for v, times := range c.values {
			k, err := strconv.Atoi(v)
			if err != nil || k < 1 {
				largest = 0
				break
			}
			if largest = max(largest, k); times > 1 {
				again = append(again, v)
			}
		}
		// Numbers from 1 on without a gap are of no length and no release group.
		if i == g.tag(g.fish) || n < 5 || largest != n || len(again) == 0 || 2*len(again) > n {
			continue
		}
		slices.SortFunc(again, history.NaturalCompare)
		shown := strings.Join(again[:min(3, len(again))], ", ")
		if len(again) > 3 {
			shown += ", …"
		}
		g.doubt("%s: %d numbers in the column %q stand on several lines (%s) and count as several fish: if these were tagged twice, name their second tags in aliases or in a column of their own", g.fish.name, len(again), c.name, shown)
	}
}

// askCaught asks whether a table of dates alone, with measures of fish, is a list
// of fish caught, as by anglers, and no site that fish swim past.
func (g *guess) askCaught() {
	for _, t := range g.sightings {
		at := t.timeColumn()
		if at < 0 || t.columns[at].dateOnly < t.columns[at].times || t.clockOf(at, false) >= 0 {
			continue
		}
		if i := slices.IndexFunc(t.columns, func(c sampleColumn) bool { return hinted(c.name, fishWords) }); i >= 0 {
			g.doubt("%s has dates alone and %q of fish: if it lists fish that were caught, it is no site; take it out", t.name, t.columns[i].name)
		}
	}
}

// whyNot says why a table is taken for neither the fish nor sightings, with a
// value of the column called as if it were what is missing; "" where none is.
func (t *sample) whyNot() string {
	why := func(words []string, what string) string {
		i := slices.IndexFunc(t.columns, func(c sampleColumn) bool { return c.filled > 0 && hinted(c.name, words) })
		if i < 0 {
			return ""
		}
		c := &t.columns[i]
		example := slices.MinFunc(slices.Collect(maps.Keys(c.values)), func(a, b string) int {
			return cmp.Or(c.values[b]-c.values[a], cmp.Compare(a, b))
		})
		reason := ""
		if _, err := tagcode.Parse(example); err != nil && len(words) == len(tagWords) {
			reason = ": " + err.Error()
		}
		return fmt.Sprintf("%s: %q holds %q%s", what, c.name, example, reason)
	}
	switch {
	case t.tagColumn() < 0:
		return why(tagWords, "no column of tags")
	case t.timeColumn() < 0:
		return why(slices.Concat(timeWords, releaseWords), "no column of times")
	}
	return ""
}

// askHeaders asks about tables whose columns go by their numbers, though a line
// stands above the records, which may name them: without names, what is known of
// the fish is not read. Files laid out alike are asked about once.
func (g *guess) askHeaders() {
	var asked []*sample
	for _, t := range append([]*sample{g.fish}, g.sightings...) {
		if !t.reading.NoHeader() || t.until == 0 || t.said != nil && t.said.Reading.HeaderLine != nil ||
			slices.ContainsFunc(asked, func(u *sample) bool { return u.like(t) && u.until == t.until }) {
			continue
		}
		asked = append(asked, t)
		why := fmt.Sprintf("none of the %d lines above the records is taken to name the columns", t.until)
		if t.until == 1 {
			why = "the line above the records is not taken to name the columns"
		}
		again := "; if one does, say which with header_line"
		if name := twice(t.names); name != "" {
			why, again = fmt.Sprintf("the name %q stands over two columns", name), "; give each a name of its own, and begin anew"
		}
		g.doubt("%s: %s, so they go by their numbers%s", t.name, why, again)
	}
}

// askHalves asks about array files whose clock seems to go to twelve only.
func (g *guess) askHalves(a *alike) {
	const oneToTwelve = 1<<13 - 2
	hours, n := uint32(0), 0
	for _, t := range a.files {
		hours |= t.columns[a.col.time].hours
		n += t.columns[a.col.time].filled
	}
	if t := a.fullest(); n >= 50 && hours == oneToTwelve {
		g.doubts = slices.Insert(g.doubts, 0, fmt.Sprintf("%s: all times are between 1:00 and 12:59, as of a clock that goes to twelve, without AM and PM: those of afternoon and evening would be twelve hours early; export the file with AM and PM, or on a clock of 24 hours", manyFiles(t.name, len(a.files))))
	}
}

// sitesAcross are the columns of times, two and more, of a table with one line a
// fish, that are called after no time: each is of a site.
func (g *guess) sitesAcross(t *sample) (names []string) {
	if tag := g.tag(t); tag < 0 || t.columns[tag].spread() < once {
		return nil
	}
	for i := range t.columns {
		if c := &t.columns[i]; c.isTime() && !hinted(c.name, timeWords) && !hinted(c.name, releaseWords) && !hinted(c.name, asideWords) && !c.part && i >= len(t.reading.Joins) {
			names = append(names, c.name)
		}
	}
	if len(names) < 2 {
		return nil
	}
	return names
}

// wideTables takes tables with a column for each site out of the array files: only
// one of them would be read.
func (g *guess) wideTables() error {
	why := ""
	g.sightings = slices.DeleteFunc(g.sightings, func(t *sample) bool {
		names := g.sitesAcross(t)
		if names == nil || t.kind() == Sightings {
			return false
		}
		why = fmt.Sprintf("%s has one line a fish and the times of each site in a column of its own (%s), which is not read: write each detection on its own line, with tag, site and time", t.name, strings.Join(names, ", "))
		g.doubts = slices.Insert(g.doubts, 0, why)
		return true
	})
	if why != "" && len(g.sightings) == 0 {
		return fmt.Errorf("%s", why)
	}
	return nil
}
