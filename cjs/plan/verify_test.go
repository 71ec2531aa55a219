package plan_test

import (
	"context"
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/plan"
)

func verify(t testing.TB, p *plan.Plan, replicates int, seed uint64) *plan.Verification {
	t.Helper()
	v, err := forecast(t, p).Verify(context.Background(), replicates, seed, nil)
	require.NoError(t, err)
	return v
}

// TestVerify: 200 replicates have a Monte Carlo standard error of 5 % of the
// spread they show, so that 20 % is four of these.
func TestVerify(t *testing.T) {
	p := tworows()
	p.Cohorts[0].Fish, p.Cohorts[1].Fish = 900, 1100
	v := verify(t, p, 200, 7)
	assert.Equal(t, 200, v.Replicates)
	assert.Empty(t, v.Failed)
	require.Len(t, v.Lines, len(forecast(t, p).Lines()))
	for _, l := range v.Lines {
		assert.Equal(t, 200, l.Given, p.Name(&l.Line))
		assert.InDelta(t, 1, l.Ratio, 0.2, p.Name(&l.Line))
		assert.InDelta(t, l.SE/l.SimulatedSE, l.Ratio, 1e-12)
		assert.InEpsilon(t, l.SimulatedSE/math.Sqrt(398), l.NoiseSE, 1e-9)
		assert.InDelta(t, 0.95, l.Coverage, 0.07, p.Name(&l.Line))
		assert.Equal(t, math.Abs(l.Ratio-1) > 0.1, l.Off)
	}
}

// TestVerifySaysWhereItIsOff: with 40 fish the large-sample figure does not
// hold, and the forecast itself warns of few fish.
func TestVerifySaysWhereItIsOff(t *testing.T) {
	p := single(40, []float64{0.8, 0.7, 0.85}, []float64{0.3, 0.3, 0.3})
	f := forecast(t, p)
	var ids []string
	for _, c := range f.Cautions {
		ids = append(ids, c.ID)
	}
	assert.Contains(t, ids, plan.FewAgain)
	v := verify(t, p, 200, 11)
	off := 0
	for _, l := range v.Lines {
		if l.Off {
			off++
		}
	}
	assert.Positive(t, off)
}

// TestVerifyIsTheSameOnAnyNumberOfCores and ends with its context.
func TestVerifyIsTheSameOnAnyNumberOfCores(t *testing.T) {
	p := tworows()
	many := verify(t, p, 20, 3)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	assert.Equal(t, many, verify(t, p, 20, 3))

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := forecast(t, p).Verify(ctx, 20, 3, nil)
	assert.ErrorIs(t, err, context.Canceled)
	_, err = plan.New(ctx, p)
	assert.ErrorIs(t, err, context.Canceled)
}

// BenchmarkForecast: a plan of five cohorts and six sites, in milliseconds.
func BenchmarkForecast(b *testing.B) {
	p := single(1000, []float64{0.8, 0.7, 0.85, 0.9, 0.8}, []float64{0.5, 0.4, 0.6, 0.5, 0.7})
	five, err := p.Apply(&plan.Option{What: "spread", Cohorts: 5})
	require.NoError(b, err)
	for b.Loop() {
		forecast(b, five)
	}
}
