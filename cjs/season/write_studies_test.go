//go:build studies

package season_test

import (
	"encoding/json"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWriteSeasonStudies runs the season studies whole and writes their
// records, only when asked for: WRITE_STUDIES=season.
func TestWriteSeasonStudies(t *testing.T) {
	if os.Getenv("WRITE_STUDIES") != "season" {
		return
	}
	writeSeason(t, "law", spring(), 2000)
	fast := spring()
	fast.second, fast.share = 14, 0.3
	writeSeason(t, "two-speeds", fast, 200)
	rest := spring()
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

const unevenChunk = 50

// TestWriteUnevenStudy runs the study of uneven pace and writes its record, only
// when asked for: WRITE_STUDIES=uneven REPLICATES=n. Of designs that the record holds
// with fewer replicates the missing ones are run, those with the fewest first, and the
// record is written after every 50; without the file all are run.
func TestWriteUnevenStudy(t *testing.T) {
	if os.Getenv("WRITE_STUDIES") != "uneven" {
		return
	}
	n, err := strconv.Atoi(os.Getenv("REPLICATES"))
	require.NoError(t, err)
	r := unevenRecord{Seed: unevenSeed, Fish: unevenFish}
	if b, err := os.ReadFile(unevenFile); err == nil {
		require.NoError(t, json.Unmarshal(b, &r))
	}
	for {
		next, done := -1, n
		for i := range unevenDesigns {
			have := 0
			if i < len(r.All) {
				have = r.All[i].Replicates
			}
			if have < done {
				next, done = i, have
			}
		}
		if next < 0 {
			return
		}
		t0 := time.Now()
		u := unevenDesigns[next]
		all := unevenReplicate(u, done, min(n, done+unevenChunk))
		if x := unevenSummary(u, all); done > 0 {
			r.All[next].add(&x)
		} else {
			r.All = append(r.All, x)
			r.First = append(r.First, unevenSummary(u, all[:unevenFirst]))
		}
		t.Logf("%s: %d in %v", u.name, done+len(all), time.Since(t0))
		b, err := json.MarshalIndent(r, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(unevenFile, append(b, '\n'), 0o644))
	}
}

// TestUnevenPartsAddUp: parts of a run add up to the whole; numbers to 1e-12, as
// they are added in two ways.
func TestUnevenPartsAddUp(t *testing.T) {
	u := unevenDesigns[0]
	all := unevenReplicate(u, 0, 7)
	whole, parts, rest := unevenSummary(u, all), unevenSummary(u, all[:3]), unevenSummary(u, all[3:])
	parts.add(&rest)
	for _, x := range [][2]*unevenSide{{&whole.Chosen, &parts.Chosen}, {&whole.OneLaw, &parts.OneLaw}} {
		assert.InDelta(t, x[0].Mean, x[1].Mean, 1e-12)
		assert.InDelta(t, x[0].SD, x[1].SD, 1e-12)
		x[1].Mean, x[1].SD = x[0].Mean, x[0].SD
	}
	assert.Equal(t, whole, parts)
}

// TestUnevenStudyStillHolds runs the first replicates of each design again: the
// same counts, and numbers to 1e-6 (see sameDays).
func TestUnevenStudyStillHolds(t *testing.T) {
	r := readUneven(t)
	require.Equal(t, unevenFish, r.Fish)
	for i, u := range unevenDesigns {
		got := unevenSummary(u, unevenReplicate(u, 0, unevenFirst))
		for _, x := range [][2]*unevenSide{{&r.First[i].Chosen, &got.Chosen}, {&r.First[i].OneLaw, &got.OneLaw}} {
			assert.InDelta(t, x[0].Mean, x[1].Mean, 1e-6, u.name)
			assert.InDelta(t, x[0].SD, x[1].SD, 1e-6, u.name)
			x[1].Mean, x[1].SD = x[0].Mean, x[0].SD
		}
		assert.Equal(t, r.First[i], got)
	}
}
