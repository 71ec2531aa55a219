package simulate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
)

// TestSumByHand: four replicates of one share of truth 0.5: 0.4 (0.3 to 0.45,
// wholly below), 0.6 (0.4 to 0.9), 0.7 (0.6 to 0.8, wholly above), 0.5 without
// an interval; one that failed and one that never ended.
func TestSumByHand(t *testing.T) {
	nan := math.NaN()
	k := key{"passed", "", "B"}
	one := func(v, se, low, high float64, warned ...string) replicate {
		e := estimate{key: k, truth: 0.5, value: v, se: se, low: low, high: high}
		if math.IsNaN(low) {
			e.answer = noneAsked
		}
		return replicate{finished: true, model: "words", warned: warned, estimates: []estimate{e}}
	}
	r := &Result{Failed: map[string]int{}, Warned: map[string]int{}}
	r.sum([]replicate{
		one(0.4, 0.03, 0.3, 0.45, cjs.WarnInseparable),
		one(0.6, 0.04, 0.4, 0.9, cjs.WarnInseparable, cjs.WarnSparse),
		one(0.7, 0.05, 0.6, 0.8),
		one(0.5, nan, nan, nan),
		one(nan, nan, nan, nan),
		{finished: true, failed: "not converged"},
		{},
	})
	assert.Equal(t, [2]int{6, 1}, [2]int{r.Replicates, r.Doubted})
	assert.Equal(t, map[string]int{"not converged": 1}, r.Failed)
	assert.Equal(t, map[string]int{cjs.WarnInseparable: 2, cjs.WarnSparse: 1}, r.Warned)
	require.Len(t, r.Quantities, 1)
	q := r.Quantities[0]
	assert.Equal(t, [5]int{4, 3, 1, 1, 1}, [5]int{q.Given, q.Intervals, q.Low, q.Covered, q.High})
	// Off by −0.1, 0.1, 0.2 and 0: mean 0.05, squares 0.0225 + 0.0025 + 0.0225 + 0.0025.
	sd := math.Sqrt(0.05 / 3)
	assert.InDelta(t, 0.05, q.Bias, 1e-12)
	assert.InDelta(t, sd, q.SD, 1e-12)
	assert.InDelta(t, sd/2, q.BiasSE, 1e-12)
	assert.InDelta(t, math.Sqrt((0.0009+0.0016+0.0025)/4), q.SE, 1e-12)
	assert.InDelta(t, (0.15+0.5+0.2)/3, q.Width, 1e-12)
	assert.InDelta(t, 0.5, q.Truth, 1e-12)
	// The one that failed has no interval to hold the truth.
	assert.InDelta(t, 1.0/4, q.Coverage(), 1e-15)
}
