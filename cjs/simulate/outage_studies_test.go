//go:build studies

package simulate_test

import (
	"encoding/json"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// outageRun runs the first n replicates of a design.
func outageRun(t testing.TB, o *outageDesign, n int) outageResult {
	t.Helper()
	r, err := o.study().Run(t.Context(), 1, n, nil)
	require.NoError(t, err)
	out := outageResult{Design: o.name, Replicates: r.Replicates, Failed: r.Failed, Warned: r.Warned}
	for _, q := range r.Quantities {
		if q.Kind == "passed" {
			out.Passed = append(out.Passed, q)
		}
	}
	return out
}

// TestWriteOutageStudy runs the designs and writes their record, only when asked
// for: WRITE_STUDIES=outages REPLICATES=n. Designs that the record holds already
// stay: without the file all are run.
func TestWriteOutageStudy(t *testing.T) {
	if os.Getenv("WRITE_STUDIES") != "outages" {
		return
	}
	n, err := strconv.Atoi(os.Getenv("REPLICATES"))
	require.NoError(t, err)
	r := outageRecord{Seed: outageSeed, Fish: outageFish}
	if b, err := os.ReadFile(outageFile); err == nil {
		require.NoError(t, json.Unmarshal(b, &r))
	}
	for i := range outageDesigns[len(r.All):] {
		o := &outageDesigns[len(r.All)]
		t0 := time.Now()
		r.All = append(r.All, outageRun(t, o, n))
		r.First = append(r.First, outageRun(t, o, outageFirst))
		t.Logf("%d %s: %v", i, o.name, time.Since(t0))
		b, err := json.MarshalIndent(r, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(outageFile, append(b, '\n'), 0o644))
	}
}

// TestOutageStudyStillHolds runs the first replicates again: the same counts, and
// numbers to 1e-6.
func TestOutageStudyStillHolds(t *testing.T) {
	for i, want := range readOutages(t).First {
		got := outageRun(t, &outageDesigns[i], want.Replicates)
		require.Equal(t, want.Warned, got.Warned, want.Design)
		for k, q := range want.Passed {
			require.Equal(t, q.Covered, got.Passed[k].Covered, want.Design)
			require.InDelta(t, q.Bias, got.Passed[k].Bias, 1e-6, want.Design)
		}
	}
}
