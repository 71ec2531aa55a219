package ingest_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/findings"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// migration writes 240 fish released over 20 days that swim past three sites in
// about 2, 4 and 6 days (lognormal, sigma 0.4), seven in ten detected at each; what
// comes after the end is not recorded. late is how wrong each site's clock is.
func migration(t *testing.T, seed uint64, end time.Time, late [3]time.Duration, top string, sites ...string) *ingest.Result {
	dir := t.TempDir()
	r := rand.New(rand.NewPCG(seed, 8))
	start := time.Date(2025, 4, 3, 20, 0, 0, 0, time.UTC)
	fish, array := "tag,released\n", "tag,site,time\n"
	for i := range 240 {
		released := start.AddDate(0, 0, i%20)
		if !released.Before(end) {
			continue
		}
		fish += fmt.Sprintf("%d,%s\n", 985141421300000+i, released.Format(time.RFC3339))
		at := released
		for k, site := range []string{"Alder Ford", "Scar Weir", "Tidehead"} {
			at = at.Add(time.Duration(48 * float64(time.Hour) * math.Exp(0.4*r.NormFloat64())))
			if r.Float64() < 0.7 && at.Before(end) {
				array += fmt.Sprintf("%d,%s,%s\n", 985141421300000+i, site, at.Add(late[k]).Format(time.RFC3339))
			}
		}
	}
	text := top + "\n[fish]\nfile = \"fish.csv\"\n[sightings]\nfiles = [\"array.csv\"]\n[[site]]\nname = \"Mill Lade\"\nkm = 60\n"
	for k, s := range sites {
		text += fmt.Sprintf("[[site]]\nname = %q\nkm = %d\n", s, 40-20*k)
	}
	for name, s := range map[string]string{"fish.csv": fish, "array.csv": array, "study.toml": text} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(s), 0o644))
	}
	st, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	return res
}

var inOrder = []string{"Alder Ford", "Scar Weir", "Tidehead"}

func grave(res *ingest.Result) (out []history.Finding) {
	for i := range res.Findings {
		if findings.Grave(&res.Findings[i]) {
			out = append(out, res.Findings[i])
		}
	}
	return out
}

// A season that is cut off while fish are on their way is said to run, first of
// all; one that was left to end is not, nor one of which the study says when it
// ends.
func TestSeasonThatStillRuns(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	never := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	cut := time.Date(2025, 4, 24, 12, 0, 0, 0, time.UTC)
	for seed := range uint64(20) {
		assert.Empty(t, grave(migration(t, seed, never, [3]time.Duration{}, "", inOrder...)), "seed %d", seed)
	}
	res := migration(t, 1, cut, [3]time.Duration{}, "", inOrder...)
	f := res.Findings[0]
	assert.Equal(t, findings.SeasonRuns, f.ID)
	assert.Contains(t, f.Message, "the last record is of 2025-04-24, 2 days after the last release")
	assert.Contains(t, f.Advice, "as_of = 2025-04-24")
	// Of the same fish so many were detected after it.
	whole := migration(t, 1, never, [3]time.Duration{}, "", inOrder...)
	came := whole.Accounting.Kept - res.Accounting.Kept
	assert.InEpsilon(t, float64(came), float64(f.Count), 0.25, "%d are to come; the binomial error is about 7 %%", came)

	for _, top := range []string{"as_of = 2025-04-24", "last_day = 2025-04-24", "[rules]\noff = [\"season_runs\"]"} {
		assert.Empty(t, grave(migration(t, 1, cut, [3]time.Duration{}, top, inOrder...)), top)
	}
}

// Sites in the wrong order, and a clock that is days off, are told apart by how
// many fish come against the order.
func TestSitesInTheWrongOrder(t *testing.T) {
	never := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	res := migration(t, 1, never, [3]time.Duration{}, "", "Tidehead", "Scar Weir", "Alder Ford")
	require.Len(t, grave(res), 2)
	f := res.Findings[0]
	assert.Equal(t, findings.SitesReversed, f.ID)
	assert.Contains(t, f.Message, "came to Scar Weir first")
	assert.Contains(t, f.Message, "fish detected at both Tidehead and Scar Weir")
	assert.Contains(t, f.Advice, "sites in the wrong order")

	// Scar Weir two days late: most come to Tidehead before it.
	res = migration(t, 1, never, [3]time.Duration{0, 48 * time.Hour, 0}, "", inOrder...)
	require.Len(t, grave(res), 1)
	f = res.Findings[0]
	assert.Equal(t, "Scar Weir and Tidehead", f.About)
	assert.Contains(t, f.Advice, "probably a clock at one of the two is days off")

	assert.Empty(t, grave(migration(t, 1, never, [3]time.Duration{0, 48 * time.Hour, 0}, "[rules]\noff = [\"sites_reversed\"]", inOrder...)))
}
