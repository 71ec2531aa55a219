//go:build studies

package simulate_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/simulate"
)

const (
	// thinMost is how long all replicates may take on thinCores.
	thinMost  = 20 * time.Minute
	thinCores = 2
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
		start := processorTime(t)
		r := record{First: run(s, firstReplicates)}
		one := (processorTime(t) - start) / firstReplicates
		took += one
		t.Logf("%-20s %v of processor time a replicate, failed %v", s.Name, one.Round(10*time.Microsecond), r.First.Failed)
		shown := r.First
		if *full {
			r.All = run(s, thinReplicates)
			t.Logf("%-20s %d replicates, failed %v", s.Name, thinReplicates, r.All.Failed)
			shown = r.All
		}
		for j, row := range s.judge(shown) {
			q := &shown.Quantities[j]
			t.Logf("%-20s %s; given %d, missed %d, impossible %d, bias %+.4f (SD %.4f), median error %+.4f", s.Name, &row, q.Given, q.Missed, q.Impossible, q.Bias, q.SD, q.Undoubted.MedianError)
		}
		out = append(out, r)
	}
	t.Logf("by the first replicates all take %v on %d cores", (took * thinReplicates / thinCores).Round(time.Second), thinCores)
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
// will take, by the processor time they need: others may use the machine too.
func thinForecast(t *testing.T, list []thinStudy, run func(*thinStudy, int) *simulate.Result) time.Duration {
	var total time.Duration
	for i := range list {
		start := processorTime(t)
		run(&list[i], thinMeasured)
		all := (processorTime(t) - start) * thinReplicates / thinMeasured / thinCores
		total += all
		t.Logf("%-20s %v on %d cores", list[i].Name, all.Round(time.Second), thinCores)
	}
	t.Logf("forecast for %d designs of %d replicates: %v on %d cores", len(list), thinReplicates, total.Round(time.Second), thinCores)
	return total
}

// processorTime is what this process has used.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
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

// ofAll are the judged quantities of a result: passed % of all fish.
func ofAll(r *simulate.Result) *simulate.Result {
	out := *r
	out.Quantities = nil
	for _, q := range r.Quantities {
		if q.Kind == "passed" && q.Of == "" {
			out.Quantities = append(out.Quantities, q)
		}
	}
	return &out
}
