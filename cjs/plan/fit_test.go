package plan_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

// fitCjs4 fits the counts of cjs4 (testdata/published/closed_form).
func fitCjs4(t testing.TB) *cjs.Fit {
	t.Helper()
	h := &history.Histories{River: river(4), Cohorts: []string{"all"}}
	for _, r := range []struct {
		seen  uint64
		count int32
	}{{7, 120}, {3, 60}, {5, 80}, {1, 140}, {6, 60}, {2, 30}, {4, 40}, {0, 470}} {
		h.Seen = append(h.Seen, r.seen)
		h.Count = append(h.Count, r.count)
		h.Entry = append(h.Entry, 0)
		h.End = append(h.End, history.Open)
		h.Cohort = append(h.Cohort, 0)
	}
	return fitted(t, model.Input{Histories: h}, model.Spec{})
}

func fitted(t testing.TB, in model.Input, spec model.Spec) *cjs.Fit {
	t.Helper()
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// TestFromFitOfExpectedCounts: a study whose counts are exactly the expected
// ones plans its repetition with the standard errors it had itself: for a
// single release observed and expected information are then the same.
func TestFromFitOfExpectedCounts(t *testing.T) {
	f := fitCjs4(t)
	p, err := plan.FromFit(f)
	require.NoError(t, err)
	got := forecast(t, p)
	require.Len(t, got.Survival, 3)
	for k, s := range f.Survival {
		assert.Equal(t, s.Status, got.Survival[k].Status)
		if s.Status == cjs.Estimated {
			assert.InEpsilon(t, s.SE, got.Survival[k].SE, 1e-6)
			assert.InEpsilon(t, s.Value, got.Survival[k].Value, 1e-6)
		}
	}
	for k, s := range f.Passed {
		if s.PassedShare.Status == cjs.Estimated {
			assert.InEpsilon(t, s.PassedShare.SE, got.Passed[k].SE, 1e-6)
		}
	}
	require.Len(t, got.Products, 1)
	assert.InEpsilon(t, f.Products[0].Value, got.Products[0].Value, 1e-6)
	assert.InEpsilon(t, f.Products[0].SE, got.Products[0].SE, 1e-6)
	require.Len(t, p.Notes, 2) // what the study could not tell
	assert.Contains(t, p.Notes[0], "could not estimate survival Scar Weir to Tidehead")
}

// TestFromFitOfEverything: cohorts entering at two sites, rows, removal, test
// passes and a held value. Observed and expected information of 3,000 fish
// differ by chance only: a tenth is wide for that and narrow for a part
// forgotten.
func TestFromFitOfEverything(t *testing.T) {
	truth := simulate.Truth{River: river(5)}
	truth.River.Sites[1].Rows = []string{"upper", "lower"}
	for i, name := range []string{"early", "late"} {
		truth.Cohorts = append(truth.Cohorts, simulate.Cohort{Name: name, Fish: 3000, Entry: i, Removed: []float64{0, 0, 0.4, 0, 0},
			Survival: []float64{0.8, 0.75, 0.85, 0.7}, Detection: []float64{0.4, 0.5, 0.6, 0.5, 0.6}})
	}
	truth.TestPasses = []simulate.TestPasses{{Row: 4, Passes: 300}}
	sample := truth.Draw(5, 1)
	f := fitted(t, model.Input{Histories: sample.Histories, TestPasses: sample.TestPasses,
		Holds: []model.Hold{{Reach: -1, Row: 3, Value: 0.5, Where: map[string]string{"cohort": "late"}}}},
		model.Spec{Survival: "reach + cohort", Detection: "row"})
	p, err := plan.FromFit(f)
	require.NoError(t, err)
	assert.Len(t, p.Holds, 1)
	assert.InDelta(t, 0.4, p.Removed[2], 0.05)
	assert.Equal(t, []int{3000, 3000}, []int{p.Cohorts[0].Fish, p.Cohorts[1].Fish})
	got := forecast(t, p)
	compared := 0
	for _, s := range f.Passed {
		for _, l := range got.Passed {
			if l.Site == s.Site && assert.ObjectsAreEqual(l.Of, s.Of) {
				assert.InEpsilon(t, s.PassedShare.Value, l.Value, 0.002)
				assert.InEpsilon(t, s.PassedShare.SE, l.SE, 0.1)
				compared++
			}
		}
	}
	assert.GreaterOrEqual(t, compared, 10)
	for _, s := range f.Detection {
		for _, l := range got.Detection {
			if l.Site == s.Site && l.Row == s.Row && !math.IsNaN(s.SE) && assert.ObjectsAreEqual(l.Of, s.Of) {
				assert.InEpsilon(t, s.SE, l.SE, 0.1)
			}
		}
	}
}

// TestFromFitWithNumbers: fish are planned at their mean length, and the notes
// say so. A length that matters moderately changes standard errors of the
// whole little.
func TestFromFitWithNumbers(t *testing.T) {
	truth := simulate.Truth{River: river(4),
		Cohorts:    []simulate.Cohort{{Name: "all", Fish: 2000, Survival: []float64{0.7, 0.75, 0.8}, Detection: []float64{0.5, 0.6, 0.5}}},
		Covariates: []simulate.Covariate{{Name: "fork_length_mm", Mean: 150, SD: 10, Survival: []float64{0.03, 0.03, 0.03}}}}
	sample := truth.Draw(6, 1)
	f := fitted(t, model.Input{Histories: sample.Histories}, model.Spec{Survival: "reach + fork_length_mm", Detection: "site"})
	p, err := plan.FromFit(f)
	require.NoError(t, err)
	assert.Equal(t, "reach", p.Spec.Survival)
	require.NotEmpty(t, p.Notes)
	assert.Contains(t, p.Notes[0], "at their mean fork_length_mm")
	got := forecast(t, p)
	for k := range 2 {
		assert.InDelta(t, f.Passed[k].PassedShare.Value, got.Passed[k].Value, 0.01)
		assert.InEpsilon(t, f.Passed[k].PassedShare.SE, got.Passed[k].SE, 0.1)
	}
}
