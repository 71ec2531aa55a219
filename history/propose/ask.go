package propose

import (
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
)

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
