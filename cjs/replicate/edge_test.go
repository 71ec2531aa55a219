package replicate_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

// edgeTruth: few fish, survival near 1, and a last site whose detection is known
// by what is shared alone. Often something is estimated as 1.
func edgeTruth() simulate.Truth {
	return simulate.Truth{River: history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Scar Weir"}, {Name: "Tidehead"}}},
		Cohorts: []simulate.Cohort{{Name: "all", Fish: 60, Survival: []float64{0.97, 0.96, 0.95}, Detection: []float64{0.45, 0.45, 0.45}}}}
}

func edgeFit(t testing.TB, truth *simulate.Truth, i uint64, opt cjs.Options) *cjs.Fit {
	t.Helper()
	s := truth.Draw(23, i)
	p, err := model.Build(model.Input{Histories: s.Histories}, model.Spec{Survival: "reach", Detection: "same"})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, opt)
	require.NoError(t, err)
	return f
}

// Where auto takes an interval by profile likelihood the bootstrap keeps it, and
// says so; elsewhere it gives its own.
func TestProfileStaysAtTheEdge(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	truth := edgeTruth()
	kept, given, boundary := 0, 0, 0
	for i := range uint64(6) {
		f := edgeFit(t, &truth, i, cjs.Options{})
		before := f.Watched()
		s := run(t, f, 1, 60, replicate.Options{Seed: 5})
		sum, err := s.Apply(f)
		require.NoError(t, err)
		assert.Equal(t, "bootstrap", f.Options.Interval)
		byProfile := 0
		for j, w := range f.Watched() {
			e := sum.Estimates[j]
			if before[j].Method == "profile" {
				byProfile++
				// Not Equal: NaN limits, where a search failed, are kept too.
				assert.Equal(t, fmt.Sprint(before[j].Estimate), fmt.Sprint(w.Estimate), e.Name)
				if w.Status == cjs.Boundary {
					boundary++
				}
				continue
			}
			given++
			low, high := e.CorrectedLow, e.CorrectedHigh
			if math.IsNaN(low) {
				low, high = e.Low, e.High
			}
			assert.Equal(t, [3]any{low, high, "bootstrap"}, [3]any{w.Low, w.High, w.Method}, e.Name)
		}
		kept += byProfile
		assert.Equal(t, byProfile, sum.ByProfile)
	}
	assert.Positive(t, boundary)
	assert.Greater(t, kept, boundary, "near the edge and borrowed too")
	// Ample data: replicates tell all but a few.
	f := riverFit(t, false)
	s := run(t, f, 1, 60, replicate.Options{Seed: 5})
	sum, err := s.Apply(f)
	require.NoError(t, err)
	assert.Less(t, sum.ByProfile, len(sum.Estimates))
	given += len(sum.Estimates) - sum.ByProfile
	assert.Positive(t, given)
}

// Replicates know nothing of a variance inflation, and are not made with one.
func TestInflationIsRefused(t *testing.T) {
	truth := edgeTruth()
	_, err := replicate.Run(context.Background(), edgeFit(t, &truth, 1, cjs.Options{VarianceInflation: 1.5}), 1, 10, replicate.Options{})
	assert.ErrorContains(t, err, "the variance inflation is 1.5")
	_, err = replicate.Run(context.Background(), edgeFit(t, &truth, 1, cjs.Options{VarianceInflation: 1, InflationEstimated: true}), 1, 10, replicate.Options{})
	assert.NoError(t, err, "estimated as 1 it widens nothing")
}

// What is asked for is told, whatever else a file of replicates holds.
func TestWithin(t *testing.T) {
	truth := edgeTruth()
	s := run(t, edgeFit(t, &truth, 1, cjs.Options{}), 1, 15, replicate.Options{Seed: 5})
	w := s.Within(3, 7)
	require.Len(t, w.Replicates, 5)
	assert.Equal(t, 3, w.Replicates[0].Index)
	assert.Equal(t, 7, w.Replicates[4].Index)
	assert.Len(t, s.Replicates, 15, "the set itself stays whole")
	sum, err := w.Summarise(0.95)
	require.NoError(t, err)
	assert.Equal(t, 5, sum.Replicates)
}
