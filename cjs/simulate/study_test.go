package simulate_test

import (
	"context"
	"encoding/json"
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
)

func quantityOf(t *testing.T, r *simulate.Result, kind, of, at string) simulate.Quantity {
	t.Helper()
	for _, q := range r.Quantities {
		if q.Kind == kind && q.Of == of && q.At == at {
			return q
		}
	}
	t.Fatalf("no %s %s %s", kind, of, at)
	return simulate.Quantity{}
}

// TestFirstReplicates runs the first replicates of a committed study again, so
// that every run of the tests, not only that of the studies, sees a change.
func TestFirstReplicates(t *testing.T) {
	s := passedStudies()[1]
	got, err := s.Run(context.Background(), 1, firstReplicates, nil)
	require.NoError(t, err)
	sameResult(t, readRecord(t, s.Name).First, got)
}

func TestRunDoesNotDependOnCores(t *testing.T) {
	s := passedStudies()[0]
	run := func(cores int) string {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		r, err := s.Run(context.Background(), 3, 12, nil)
		require.NoError(t, err)
		b, err := json.Marshal(r)
		require.NoError(t, err)
		return string(b)
	}
	assert.Equal(t, run(1), run(4))
}

func TestRunStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s := passedStudies()[0]
	s.Options.EstimatesOnly = true
	r, err := s.Run(ctx, 1, 100000, cancel)
	assert.ErrorIs(t, err, context.Canceled)
	assert.GreaterOrEqual(t, r.Replicates, 1)
	assert.Less(t, r.Replicates, 1000)
}

func TestRunRefuses(t *testing.T) {
	s := passedStudies()[0]
	_, err := s.Run(context.Background(), 0, 5, nil)
	assert.ErrorContains(t, err, "counted from 1")
	s.Truth.Cohorts = nil
	_, err = s.Run(context.Background(), 1, 5, nil)
	assert.ErrorContains(t, err, "needs a cohort")
}

// TestFailuresAreCounted: a model the study cannot have fails with its reason
// in every replicate.
func TestFailuresAreCounted(t *testing.T) {
	s := passedStudies()[0]
	s.Spec = model.Spec{Survival: "reach + lenght"}
	r, err := s.Run(context.Background(), 1, 4, nil)
	require.NoError(t, err)
	assert.Equal(t, 4, r.Replicates)
	require.Len(t, r.Failed, 1)
	for why, n := range r.Failed {
		assert.Contains(t, why, "lenght")
		assert.Equal(t, 4, n)
	}
}

// TestBreakers: each broken assumption moves passed % the way it must, by what
// can be reckoned by hand where it can. 60 samples of 2,000 fish; the bias is
// known to 0.003.
func TestBreakers(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	base := simulate.Truth{River: river(4, map[int]int{1: 2, 3: 2}), Cohorts: cohorts(1, 2000, []float64{0.8, 0.75, 0.8}, []float64{0.5, 0.4, 0.5, 0.5, 0.5})}
	bias := func(set func(*simulate.Truth), site string) float64 {
		truth := base
		set(&truth)
		s := simulate.Study{Truth: truth, Seed: 202540}
		s.Options.EstimatesOnly = true
		r, err := s.Run(context.Background(), 1, 60, nil)
		require.NoError(t, err)
		q := quantityOf(t, r, "passed", "", site)
		require.Equal(t, 60, q.Given)
		return q.Bias
	}
	near := func(want, got float64) { t.Helper(); assert.InDelta(t, want, got, 0.01) }
	near(0, bias(func(*simulate.Truth) {}, "Tidehead"))
	// A tenth of the fish dead at the trap: a tenth less pass everywhere.
	near(-0.1*0.8, bias(func(x *simulate.Truth) { x.Violations.HandlingDeath = 0.1 }, "Alder Ford"))
	near(-0.1*0.48, bias(func(x *simulate.Truth) { x.Violations.HandlingDeath = 0.1 }, "Tidehead"))
	// 5 % of tags lost in each reach: 0.95³ of the fish seem to pass.
	near((0.95*0.95*0.95-1)*0.48, bias(func(x *simulate.Truth) { x.Violations.TagLoss = 0.05 }, "Tidehead"))
	// Fish that are seen well are seen again and again: detection comes out
	// too high, passed too low.
	assert.Less(t, bias(func(x *simulate.Truth) { x.Violations.DetectionSD = 1.5 }, "Alder Ford"), -0.02)
	// Rows that miss the same fish: detection at the last site too high.
	assert.Less(t, bias(func(x *simulate.Truth) { x.Violations.RowsTogether = 0.5 }, "Tidehead"), -0.04)
	// Tags of dead fish read on: too many pass.
	assert.Greater(t, bias(func(x *simulate.Truth) { x.Violations.Ghosts = 0.5 }, "Alder Ford"), 0.03)
	// A second kind that survives less and is seen less is missed.
	second := bias(func(x *simulate.Truth) {
		x.Violations.Second = simulate.Mixture{Share: 0.3, Survival: -1, Detection: -2}
	}, "Alder Ford")
	assert.Less(t, second, -0.05)
	assert.False(t, math.IsNaN(second))
}

// TestCoefficientsAreScored: one replicate's interval of a coefficient is 1.96
// standard errors to each side.
func TestCoefficientsAreScored(t *testing.T) {
	s := simulate.Study{Truth: simulate.Truth{River: river(3, nil), Cohorts: cohorts(1, 500, []float64{0.8, 0.8}, []float64{0.6, 0.6})},
		Spec: model.Spec{Survival: "same", Detection: "same"}, Coefficients: map[string]float64{"survival same": math.Log(4)}}
	r, err := s.Run(context.Background(), 1, 1, nil)
	require.NoError(t, err)
	q := quantityOf(t, r, "coefficient", "", "survival same")
	assert.Equal(t, 1, q.Intervals)
	assert.InDelta(t, 2*1.959963984540054*q.SE, q.Width, 1e-9)
	assert.InDelta(t, math.Log(4), q.Truth, 1e-12)
}
