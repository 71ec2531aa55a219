package simulate_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

func fitted(t *testing.T, s *simulate.Sample, spec model.Spec) *cjs.Fit {
	t.Helper()
	p, err := model.Build(model.Input{Histories: s.Histories, TestPasses: s.TestPasses}, spec)
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// TestTwoWaysOfSimulating: fish made anew by the number and one by one have the
// same counts on average, within 5 standard errors: rows, removals, a late
// entry, test passes.
func TestTwoWaysOfSimulating(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	truth := smallTruth()
	f := fitted(t, truth.Draw(8, 1), model.Spec{Survival: "reach + cohort", Detection: "row"})
	a := simulate.FromFit(f)
	require.True(t, a.Alike())
	const draws = 400
	type moments struct{ sum, sq float64 }
	collect := func(data func(i uint64) *likelihood.Data) []moments {
		var out []moments
		for i := range uint64(draws) {
			var v []float64
			for _, u := range data(i).Units {
				v = append(append(append(append(v, u.Alive...), u.Seen...), u.Missed...), u.Never[:len(u.Never)-1]...)
			}
			if out == nil {
				out = make([]moments, len(v))
			}
			for j, x := range v {
				out[j].sum += x
				out[j].sq += x * x
			}
		}
		return out
	}
	counts := collect(func(i uint64) *likelihood.Data { return &a.SimulateCounts(simulate.Stream(91, i)).Data })
	fish := collect(func(i uint64) *likelihood.Data {
		p, err := a.Simulate(simulate.Stream(92, i))
		require.NoError(t, err)
		return p.Data
	})
	require.Len(t, fish, len(counts))
	for j := range counts {
		mean := [2]float64{counts[j].sum / draws, fish[j].sum / draws}
		var v float64
		for k, m := range []moments{counts[j], fish[j]} {
			v += (m.sq/draws - mean[k]*mean[k]) / draws
		}
		assert.InDelta(t, mean[0], mean[1], 5*math.Sqrt(v)+1e-9, "count %d", j)
	}
	// Made anew they are the fit's own counts on average, but for what the
	// model smooths: within 3 % of the fish.
	observed := a.Observed().Data
	for g := range f.Problem.Classes {
		assert.InDelta(t, observed.Units[g].Alive[0], counts[g*(3+4+4+3)].sum/draws, 0.03*800)
	}
}

// TestResampleKeepsTheReleased: as many fish of each cohort and entry, and on
// average their own counts.
func TestResampleKeepsTheReleased(t *testing.T) {
	truth := smallTruth()
	f := fitted(t, truth.Draw(8, 1), model.Spec{Survival: "reach + cohort", Detection: "row"})
	a := simulate.FromFit(f)
	observed := a.Observed()
	sum := 0.0
	const draws = 300
	for i := range uint64(draws) {
		p, err := a.Resample(simulate.Stream(5, i))
		require.NoError(t, err)
		for g := range p.Classes {
			assert.Equal(t, f.Problem.Classes[g].New, p.Classes[g].New)
		}
		c := a.ResampleCounts(simulate.Stream(6, i))
		sum += c.Data.Units[0].Seen[0]
	}
	want := observed.Data.Units[0].Seen[0]
	assert.InDelta(t, want, sum/draws, 5*math.Sqrt(want/draws))
}

// TestTruthOf: the estimates of a fit as a truth, by hand for a fish with its
// own length.
func TestTruthOf(t *testing.T) {
	truth := smallTruth()
	f := fitted(t, truth.Draw(8, 1), model.Spec{})
	got := simulate.TruthOf(f)
	require.NoError(t, got.Check())
	require.Len(t, got.Cohorts, 3)
	assert.Equal(t, []int{500, 500, 300}, []int{got.Cohorts[0].Fish, got.Cohorts[1].Fish, got.Cohorts[2].Fish})
	assert.Equal(t, 2, got.Cohorts[2].Entry)
	assert.InDelta(t, f.Survival[0].Value, got.Cohorts[0].Survival[0], 1e-12)
	assert.InDelta(t, f.Detection[1].Value, got.Cohorts[1].Detection[1], 1e-12)
	// A tenth of those seen at Alder Ford were taken out, or near it.
	assert.InDelta(t, 0.1, got.Cohorts[0].Removed[1], 0.06)

	truth.Cohorts = truth.Cohorts[:2]
	truth.Covariates = []simulate.Covariate{{Name: "length", Mean: 170, SD: 15, Survival: []float64{0.03, 0.03, 0.03}}}
	s := truth.Draw(8, 2)
	f = fitted(t, s, model.Spec{Survival: "reach + cohort + length", Detection: "row"})
	got = simulate.TruthOf(f)
	require.NoError(t, got.Check())
	require.Len(t, got.Cohorts, 1000)
	var slope, level float64
	for _, c := range f.Coefficients {
		switch {
		case c.Term == "length":
			slope = c.Estimate
		case c.Part == "survival" && c.Term == "reach Mill Lade to Alder Ford":
			level = c.Estimate
		}
	}
	x := s.Histories.Columns[0].Value[7]
	assert.Equal(t, x, got.Cohorts[7].Values["length"])
	want, _ := likelihood.Expit(level + slope*(x-f.Problem.Numbers[0].Mean))
	assert.InDelta(t, want, got.Cohorts[7].Survival[0], 1e-9)
	again := got.Draw(1, 1)
	assert.Equal(t, s.Histories.Columns[0].Value[:3], firstOfEach(again.Histories, "length", 3))
}

// firstOfEach are the values of the first fish, whose records stand in order.
func firstOfEach(h *history.Histories, column string, n int) []float64 {
	return h.Column(column).Value[:n]
}
