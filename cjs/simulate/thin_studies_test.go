//go:build studies

package simulate_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/simulate"
)

const (
	// thinMost is how long all replicates of the study may take.
	thinMost = 20 * time.Minute
	// thinMeasured replicates of each design tell how long it will be.
	thinMeasured = 4
)

// TestThinStudies runs the first replicates of the study of thin data again,
// or all, and then writes its record:
//
//	go test -tags studies ./cjs/simulate -run TestThinStudies -full -timeout 1h
//
// Its limits are judged by TestThin.
func TestThinStudies(t *testing.T) {
	list := thinStudies()
	run := func(s *thinStudy, to int) *simulate.Result {
		r, err := s.Run(context.Background(), 1, to, nil)
		require.NoError(t, err)
		return ofAll(r)
	}
	if *full {
		forecast := thinForecast(t, list, run)
		require.Less(t, forecast, thinMost, "the study would take too long")
	}
	var out []record
	var took time.Duration
	for i := range list {
		s := &list[i]
		start := time.Now()
		r := record{First: run(s, firstReplicates)}
		took += time.Since(start)
		t.Logf("%-20s %d replicates in %v, failed %v", s.Name, firstReplicates, time.Since(start).Round(time.Millisecond), r.First.Failed)
		shown := r.First
		if *full {
			start = time.Now()
			r.All = run(s, thinReplicates)
			t.Logf("%-20s %d replicates in %v, failed %v", s.Name, thinReplicates, time.Since(start).Round(time.Second), r.All.Failed)
			shown = r.All
		}
		for j, row := range s.judge(shown) {
			q := &shown.Quantities[j]
			t.Logf("%-20s %s; given %d, missed %d, impossible %d, bias %+.4f (SD %.4f), median error %+.4f", s.Name, &row, q.Given, q.Missed, q.Impossible, q.Bias, q.SD, q.Undoubted.MedianError)
		}
		out = append(out, r)
	}
	t.Logf("by the first replicates all take %v", (took * thinReplicates / firstReplicates).Round(time.Second))
	if *full {
		writeThin(t, out)
	}
	have := readThin(t)
	require.Len(t, have, len(list))
	for i := range have {
		sameResult(t, have[i].First, out[i].First)
		assert.Equal(t, thinReplicates, have[i].All.Replicates)
	}
}

// thinForecast measures a few replicates of each design and tells how long all
// will take.
func thinForecast(t *testing.T, list []thinStudy, run func(*thinStudy, int) *simulate.Result) time.Duration {
	var total time.Duration
	for i := range list {
		start := time.Now()
		run(&list[i], thinMeasured)
		one := time.Since(start) / thinMeasured
		total += one * thinReplicates
		t.Logf("%-20s %v a replicate, %v for all", list[i].Name, one.Round(100*time.Microsecond), (one * thinReplicates).Round(time.Second))
	}
	t.Logf("forecast for %d designs of %d replicates: %v", len(list), thinReplicates, total.Round(time.Second))
	return total
}

func writeThin(t *testing.T, all []record) {
	t.Helper()
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	require.NoError(t, e.Encode(all))
	require.NoError(t, os.WriteFile(thinFile, b.Bytes(), 0o644))
}
