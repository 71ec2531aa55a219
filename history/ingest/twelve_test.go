package ingest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A clock that goes to twelve, without AM and PM, is told of a study written by
// hand too; one of 24 hours, one that says AM and PM, and a few records are not.
func TestClockThatGoesToTwelveIsTold(t *testing.T) {
	for _, c := range []struct {
		name, layout string
		records      int
		want         bool
	}{
		{"to twelve", "2006-01-02 03:04:05", 50, true},
		{"too few to tell", "2006-01-02 03:04:05", 49, false},
		{"of 24 hours", "2006-01-02 15:04:05", 50, false},
		{"with AM and PM", "2006-01-02 03:04:05 PM", 50, false},
	} {
		var array strings.Builder
		array.WriteString(head)
		at := time.Date(2025, 4, 4, 0, 20, 0, 0, time.UTC)
		for range c.records {
			fmt.Fprintf(&array, "985141421300001,Alder Ford,north,%s\n", at.Format(c.layout))
			at = at.Add(5 * time.Hour)
		}
		st := studyOf(t, "", "tag,released\n985141421300001,2025-04-03T20:00Z\n", array.String())
		res, err := Run(context.Background(), st, Options{})
		require.NoError(t, err, c.name)
		found := found(res, "twelve_hours")
		if assert.Len(t, found, map[bool]int{true: 1}[c.want], c.name) && c.want {
			assert.Equal(t, "array.csv", found[0].About)
			assert.EqualValues(t, 1, found[0].Impact)
		}
	}
}
