package fishtable

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/rule"
	"example.org/unseen/history/tagindex"
)

func readSmall(t *testing.T, lines []string) (*Table, error) {
	st := studyOf(t, strings.Join(lines, "\n")+"\n")
	return Read(t.Context(), st, rule.SeasonOf(st, time.Time{}), tagindex.Form{}, 1)
}

// Lines that are no tagged fish are reported with their places, and the others
// are read as if they were not there.
func TestLinesThatAreNoFish(t *testing.T) {
	clean := []string{
		"tag;released;fork_length_mm",
		"985141421300001;2025-04-03 20:00;121,5",
		"985141421300002;2025-04-03 20:00;130",
		"985141421300003;2025-04-04 20:00;118,5",
	}
	dirty := []string{
		clean[0],
		"code;yyyy-mm-dd hh:mm;mm",
		clean[1],
		"",
		";2025-04-03 20:00;125",
		clean[2] + ";;",
		"-;;119",
		clean[3],
		";;",
		"Total: 5;;1234,5 g",
		";;Mean 122",
		";;mm",
		"# seen to by the office",
		"tag;released;fork_length_mm",
		"lost 1; lost 2",
	}
	want, err := readSmall(t, clean)
	require.NoError(t, err)
	got, err := readSmall(t, dirty)
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("%+v", want.Histories), fmt.Sprintf("%+v", got.Histories)) // they hold NaN
	assert.Equal(t, 3, got.Total)
	require.Len(t, got.Findings, 3)
	for i, x := range []struct {
		id      string
		count   int64
		message string
		moves   bool
	}{
		{"no_tag", 2, "records of the fish table without a tag: 2 (line 5, 7); they are not counted as released", true},
		{"no_fish", 7, "lines of the fish table that are no fish, as totals, units, titles or headings: 7 (line 2, 10, 11, 12, 13, 14, …); they are passed over", false},
		{"empty_line", 2, "empty lines of the fish table: 2 (line 4, 9); they are passed over", false},
	} {
		f := got.Findings[i]
		assert.Equal(t, x.id, f.ID)
		assert.Equal(t, x.count, f.Count)
		assert.Equal(t, x.message, f.Message)
		assert.Equal(t, x.moves, f.Impact > 0, x.id)
	}
}

// A tag that was meant to be a code, and a fish without a time of release, are
// faults as before.
func TestSpoiltFishIsNoTotal(t *testing.T) {
	for line, want := range map[string]string{
		"98514142130000x;2025-04-03 20:00;120": "column \"tag\"",
		"985141421300009;;120":                 "the release time is missing",
		"98514142130000x;soon;120":             "column \"tag\"",
		"985141421300009;2025-04-03 20:00":     "2 fields where the header names 3 columns; put a fish's missing fields in, empty ones too",
		"98514142130000x":                      "1 fields where the header names 3 columns",
	} {
		_, err := readSmall(t, []string{"tag;released;fork_length_mm", "985141421300001;2025-04-03 20:00;121", line})
		assert.ErrorContains(t, err, want, line)
	}
}
