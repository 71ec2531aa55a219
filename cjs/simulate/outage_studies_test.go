//go:build studies

package simulate_test

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// outageKm: fish let go at noon of each of 15 days; sites 40, 75 and 110 km
// below. Survival is .85 in each reach, detection .6 at each row, 80 test passes
// at each row of the last site.
var outageKm = []float64{0, 40, 75, 110}

func (o *outageDesign) study() *simulate.Study {
	rows := o.rows
	if rows == nil {
		rows = []int{1, 1, 1}
	}
	names := []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}
	t := simulate.Truth{}
	for k, km := range outageKm {
		s := history.Site{Name: names[k], Km: km, Days: math.NaN()}
		if k > 0 && rows[k-1] > 1 {
			s.Rows = []string{"upper", "lower"}
		}
		t.River.Sites = append(t.River.Sites, s)
	}
	n := t.River.Rows()
	move := simulate.Movement{Drift: 6, Spread: 9}
	switch o.law {
	case "resting":
		move.Rest, move.RestDays = 0.2, 4
	case "two speeds":
		t.Violations.Second = simulate.Mixture{Share: 0.3, Drift: 12}
	}
	for c := range max(1, o.cohorts) {
		co := simulate.Cohort{Name: []string{"week 1", "week 2", "week 3", "week 4", "week 5"}[c], Fish: outageFish / max(1, o.cohorts), Survival: same(3, .85), Detection: same(n, .6), Movement: move}
		each := 15 / max(1, o.cohorts)
		co.Released = days(15)[c*each : (c+1)*each]
		t.Cohorts = append(t.Cohorts, co)
	}
	for b := t.River.FirstRow(3); b < n; b++ {
		t.TestPasses = append(t.TestPasses, simulate.TestPasses{Row: b, Passes: 80})
	}
	at := func(day float64) time.Time { return firstDay.Add(time.Duration(day * 24 * float64(time.Hour))) }
	t.Working = make([][]study.Window, n)
	for b, idle := range o.idle {
		t.Working[b] = []study.Window{{To: at(idle[0])}}
		if !math.IsInf(idle[1], 1) {
			t.Working[b] = append(t.Working[b], study.Window{From: at(idle[1])})
		}
	}
	if o.asOf > 0 {
		t.AsOf = at(o.asOf)
	}
	spec := model.Spec{Survival: "reach by cohort", Detection: "row", Drift: "same", Spread: "same"}
	return &simulate.Study{Name: "outage: " + o.name, Seed: outageSeed, Truth: t, Spec: spec, Options: cjs.Options{}}
}

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
