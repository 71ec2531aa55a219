//go:build studies

package season_test

import (
	"encoding/json"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
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
	writeSeason(t, "two-speeds", fast, 200)
	rest := issue()
	rest.rest, rest.restDays = 0.3, 6
	writeSeason(t, "resting", rest, 200)
}

// writeSeason runs a study whole and writes its record.
func writeSeason(t testing.TB, name string, tr truth, replicates int) {
	t0 := time.Now()
	first := study(t, name, tr, 0, firstOnes)
	t.Logf("%s: %d replicates in %v", name, firstOnes, time.Since(t0))
	r := seasonRecord{Seed: seasonSeed, First: first, All: study(t, name, tr, 0, replicates)}
	t.Logf("%s: %d replicates in %v", name, replicates, time.Since(t0))
	b, err := json.MarshalIndent(r, "", " ")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(seasonFile(name), append(b, '\n'), 0o644))
}
