package simulate_test

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history/study"
)

// works tells whether a row works so many days after the first release.
func works(windows []study.Window, day float64) bool {
	if windows == nil {
		return true
	}
	at := firstDay.Add(time.Duration(day * 24 * float64(time.Hour)))
	for _, w := range windows {
		if (w.From.IsZero() || !at.Before(w.From)) && (w.To.IsZero() || at.Before(w.To)) {
			return true
		}
	}
	return false
}

// A row stopped works when it worked before, but for the outage; what others hold
// of the truth stays.
func TestStop(t *testing.T) {
	at := func(d float64) time.Time { return firstDay.Add(time.Duration(d * 24 * float64(time.Hour))) }
	two := []study.Window{{To: at(5)}, {From: at(7), To: at(20)}}
	for _, c := range []struct {
		name     string
		was      []study.Window
		from, to float64
	}{
		{"always", nil, 10, 12}, {"within one", two, 10, 12}, {"over the gap", two, 4, 8}, {"from a start", two, 7, 9},
		{"to an end", two, 15, 20}, {"over the end", two, 15, 30}, {"in the gap", two, 5.5, 6}, {"before all", two, -20, -10},
		{"after all", two, 25, 30}, {"one of two", two, 6, 21}, {"whole", two, -100, 100},
	} {
		truth := timedTruth(10, 1, 1)
		truth.Working = [][]study.Window{nil, c.was}
		held := truth.Working
		truth.Stop(1, at(c.from), at(c.to))
		require.NoError(t, truth.Check(), c.name)
		require.NotEmpty(t, truth.Working[1], c.name)
		assert.Nil(t, truth.Working[0], c.name)
		assert.Equal(t, c.was, held[1], c.name)
		for d := -30.0; d <= 40; d += 0.25 {
			want := works(c.was, d) && (d < c.from || d >= c.to)
			assert.Equal(t, want, works(truth.Working[1], d), "%s: day %v", c.name, d)
		}
	}
	truth := timedTruth(10, 1, 1)
	truth.Stop(0, at(1), at(2))
	assert.Len(t, truth.Working, 2)
	assert.Nil(t, truth.Working[1])
}

// TestUndeclaredOutage: the last site stands still while a good part of the fish
// pass, of 600, in 20 replicates. Declared, passed % has no bias but for 0.1 SD + 4
// Monte Carlo standard errors; not declared, it comes out too low by the share of
// the passages that fell into it, within 4 of the same, and so it does where another
// outage is declared in which nobody passes.
func TestUndeclaredOutage(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	truth := timedTruth(600, 0.7, 0.6)
	truth.TestPasses = []simulate.TestPasses{{Row: 1, Passes: 200}}
	truth.Stop(1, firstDay.Add(8*day), firstDay.Add(12*day))
	s := simulate.Study{Truth: truth, Seed: 202561, Spec: model.Spec{Survival: "reach", Detection: "row"}}
	s.Options.EstimatesOnly = true
	run := func() (*simulate.Result, simulate.Quantity) {
		r, err := s.Run(context.Background(), 1, 20, nil)
		require.NoError(t, err)
		require.Empty(t, r.Failed)
		return r, quantityOf(t, r, "passed", "", "Tidehead")
	}
	r, q := run()
	assert.Less(t, math.Abs(q.Bias), 0.1*q.SD+4*q.BiasSE)
	require.Len(t, r.Outages, 1)
	o := r.Outages[0]
	assert.Equal(t, "Tidehead", o.At)
	// 600 × 0.49 fish in each of 20 replicates; 4 standard errors.
	assert.InDelta(t, 20*600*0.49, float64(o.Passed), 4*math.Sqrt(20*600*0.49*0.51))
	require.Greater(t, o.Share(), 0.25)
	require.Less(t, o.Share(), 0.6)
	assert.True(t, s.Knows("Tidehead"))
	s.Undeclared = true
	silent, q := run()
	assert.Equal(t, r.Outages, silent.Outages)
	assert.InDelta(t, -0.49*o.Share(), q.Bias, 4*q.BiasSE)
	assert.False(t, s.Knows("Tidehead"))
	assert.True(t, s.Knows("Alder Ford"))
	s.Declared = [][]study.Window{nil, {{To: firstDay.Add(200 * day)}}}
	_, again := run()
	assert.InDelta(t, q.Bias, again.Bias, 1e-6)
}
