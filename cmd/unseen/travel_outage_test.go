package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// outageStudy is the study of `working` in docs/declarations.md.
func outageStudy(t *testing.T) (study string) {
	t.Helper()
	dir := t.TempDir()
	fish := "tag,released\n"
	for i := range 100 {
		fish += fmt.Sprintf("F%02d,2025-04-01 10:00:00\n", i)
	}
	for name, text := range map[string]string{
		"fish.csv": fish, "seen.csv": "tag,site,time\n" + sightings(0, days(12, 3, 7, 4)...) + sightings(20, days(12, 12, 21, 1)...),
		"study.toml": strings.Replace(tagged, "km = 0\n", "km = 0\n"+stoodStill, 1),
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	return filepath.Join(dir, "study.toml")
}

// TestTravelInAnOutage: half of the fish passed on the day that SciPy says
// (testdata/outages/declared.py), where of those seen half came two days earlier;
// and the law is the one that it fits, whose median is not that of the days seen.
func TestTravelInAnOutage(t *testing.T) {
	code, out, stderr := runHere(t.Context(), t, "travel", outageStudy(t), "--json")
	require.Zero(t, code, stderr)
	var doc struct {
		Arrivals []struct {
			Site      string
			Seen      [3]time.Time
			Corrected [3]time.Time
		}
		Stretches []struct {
			Days struct{ Median float64 }
			Law  struct {
				Truncated bool
				Hidden    float64                               `json:"hidden_share"`
				Drift     struct{ Estimate float64 }            `json:"drift_km_per_day"`
				Spread    struct{ Estimate float64 }            `json:"spread_km_per_root_day"`
				Median    struct{ Estimate, Low, High float64 } `json:"median_days"`
			}
		}
		Warnings []struct{ ID string }
	}
	require.NoError(t, json.Unmarshal([]byte(out), &doc))
	a := doc.Arrivals[len(doc.Arrivals)-1]
	require.Equal(t, "Tidehead", a.Site)
	assert.Equal(t, "2025-04-06T12:00:00Z", a.Seen[1].Format(time.RFC3339))
	// Slices of an hour, in which fish come evenly: within seconds.
	assert.WithinDuration(t, time.Date(2025, 4, 8, 1, 12, 36, 0, time.UTC), a.Corrected[1], 10*time.Second)
	assert.Equal(t, "2025-04-04T12:00:00Z", a.Corrected[0].Format(time.RFC3339))
	// 0.9 × 40.37 is 36.3: 20 before, 10.4 in it, and six of those after.
	assert.Equal(t, "2025-04-17T12:00:00Z", a.Corrected[2].Format(time.RFC3339))
	days := doc.Stretches[0]
	assert.InDelta(t, 5.083333, days.Days.Median, 5e-7)
	// The printed digits of SciPy, whose search ends within 1e-7 of the maximum.
	assert.InDelta(t, 3.738741, days.Law.Drift.Estimate, 2e-6)
	assert.InDelta(t, 7.528892, days.Law.Spread.Estimate, 2e-6)
	assert.InDelta(t, 6.440790, days.Law.Median.Estimate, 2e-6)
	assert.InDelta(t, 1-0.74318261, days.Law.Hidden, 2e-6)
	assert.True(t, days.Law.Truncated)
	assert.Less(t, days.Law.Median.Low, days.Law.Median.Estimate)
	var said []string
	for _, w := range doc.Warnings {
		said = append(said, w.ID)
	}
	assert.Equal(t, []string{"travel-outage"}, said)
}
