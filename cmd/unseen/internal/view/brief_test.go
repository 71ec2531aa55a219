package view

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// The one screen of a fit shows the cohorts at the site that the answer is about,
// and none of them where they are many.
func TestBriefPassed(t *testing.T) {
	river := &history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Tidehead"}}}
	row := func(level string, site int, share float64, status cjs.Status) cjs.Passed {
		none := cjs.NoEstimate(cjs.Absent)
		p := cjs.Passed{Site: site, Released: 10, Seen: 3, SeenShare: cjs.Estimate{Value: .3, Status: cjs.Estimated}, Detection: none,
			PassedShare: cjs.Estimate{Value: share, Low: share - .1, High: share + .1, Status: status}, PassedFish: none, PassedFishShare: none,
			SoFar: none, StillToPass: none, WithRetention: none, BetweenCohorts: math.NaN()}
		if level != "" {
			p.Of = []cjs.Category{{Name: "cohort", Level: level}}
		}
		return p
	}
	list := []cjs.Passed{row("", 1, .8, cjs.Estimated), row("", 2, .5, cjs.Borrowed)}
	levels := []string{"a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k"}
	for _, level := range levels[:mostGroups] {
		list = append(list, row(level, 1, .8, cjs.Estimated), row(level, 2, .5, cjs.Borrowed))
	}
	tables := briefPassed(river, list, .95)
	assert.Len(t, tables, 2)
	assert.Len(t, tables[0].Rows, 2, "all fish, at both sites")
	assert.Len(t, tables[1].Rows, mostGroups, "cohorts, at the last site of which it is known")
	assert.Equal(t, "By cohort, Alder Ford", tables[1].Title)
	for _, table := range tables {
		for _, c := range table.Columns {
			assert.False(t, c.Detail && c.Title != "", c.Title)
		}
	}
	last := levels[mostGroups]
	tables = briefPassed(river, append(list, row(last, 1, .8, cjs.Estimated), row(last, 2, .5, cjs.Borrowed)), .95)
	assert.Len(t, tables, 1)
}
