package view

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/travel"
)

// TestEveryWarningHasATitle: no ID stands alone before a reader, and no title is
// of an ID that is no more.
func TestEveryWarningHasATitle(t *testing.T) {
	ids := slices.Concat(cjs.WarningIDs, assess.WarningIDs, compare.WarningIDs, opinion.WarningIDs, plan.WarningIDs, travel.WarningIDs)
	for _, id := range ids {
		assert.NotEmpty(t, warningTitles[id], id)
		assert.NotContains(t, warningTitles[id], id)
	}
	assert.Len(t, warningTitles, len(ids))
}

func TestAtMostFiveWarnings(t *testing.T) {
	var list []cjs.Warning
	for i := range 5 {
		list = append(list, cjs.Warning{ID: "a", Message: fmt.Sprint(i)})
	}
	s := warningSection(list)
	assert.Len(t, s.Warnings, 5)
	assert.Empty(t, s.Notes)
	list = append(list, cjs.Warning{ID: "b"}, cjs.Warning{ID: "c"}, cjs.Warning{ID: "b"})
	s = warningSection(list)
	assert.Len(t, s.Warnings, 5)
	assert.Equal(t, "4", s.Warnings[4].Message)
	assert.Equal(t, "3 further warnings: [b] (2) and [c]. --json and --csv hold them all.", s.Notes[0])
}
