//go:build studies

package season_test

import (
	"os"
	"testing"
)

// TestWriteSeasonStudies runs the season studies whole and writes their
// records, only when asked for: WRITE_STUDIES=season.
func TestWriteSeasonStudies(t *testing.T) {
	if os.Getenv("WRITE_STUDIES") != "season" {
		return
	}
	writeSeason(t, "issue", issue(), 2000)
	fast := issue()
	fast.second, fast.share = 14, 0.3
	writeSeason(t, "two-speeds", fast, 500)
	rest := issue()
	rest.rest, rest.restDays = 0.3, 6
	writeSeason(t, "resting", rest, 500)
}
