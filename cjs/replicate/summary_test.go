package replicate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs/replicate"
)

// TestSummaryByHand: 39 replicates at 1, 2, …, 39, the estimate at 15.5, and
// one that failed. Percentiles by definition 7: 1 + 38 · 0.05 and 1 + 38 · 0.95.
// 15 of 39 lie below, so z₀ = Φ⁻¹(15/39) = -0.29338, and the corrected limits
// are the quantiles at Φ(2z₀ ± 1.64485) (Python statistics.NormalDist;
// testdata/published/scipy/in_tests.py).
func TestSummaryByHand(t *testing.T) {
	s := &replicate.Set{Method: replicate.Parametric, Names: []string{"x"}, Estimates: []float64{15.5}, Deviance: 30.5}
	for i := range 39 {
		s.Replicates = append(s.Replicates, replicate.Replicate{Index: i + 1, Estimates: []float64{float64((i*7)%39 + 1)}, Deviance: float64(i + 1)})
	}
	s.Replicates = append(s.Replicates, replicate.Replicate{Index: 40, Failure: "not converged", Deviance: math.NaN()})
	sum := summarise(t, s, 0.90)
	assert.Equal(t, map[string]int{"not converged": 1}, sum.Failed)
	assert.Equal(t, 40, sum.Replicates)
	e := sum.Estimates[0]
	assert.Equal(t, 39, e.Given)
	assert.InDelta(t, 20-15.5, e.Bias, 1e-12)
	assert.InDelta(t, math.Sqrt(39*40/12.0), e.SE, 1e-12) // of 1 … n: √(n(n+1)/12)
	assert.InDelta(t, 1+38*0.05, e.Low, 1e-12)
	assert.InDelta(t, 1+38*0.95, e.High, 1e-12)
	assert.InDelta(t, 1+38*0.0128201736, e.CorrectedLow, 1e-6)
	assert.InDelta(t, 1+38*0.8549930585, e.CorrectedHigh, 1e-6)
	// 9 simulated deviances are at least 30.5, and the fit's own is one more.
	assert.InDelta(t, 10.0/40, sum.P, 1e-12)
	assert.InDelta(t, 20, sum.MeanDeviance, 1e-12)
	// At 15 the one that is equal counts half: z₀ = Φ⁻¹(14.5/39), with
	// Φ⁻¹(p) = √2 erf⁻¹(2p − 1).
	s.Estimates[0] = 15
	z0, z := math.Sqrt2*math.Erfinv(2*14.5/39-1), 1.6448536269514722
	cdf := func(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
	e = summarise(t, s, 0.90).Estimates[0]
	assert.InDelta(t, 1+38*cdf(2*z0-z), e.CorrectedLow, 1e-9)
	assert.InDelta(t, 1+38*cdf(2*z0+z), e.CorrectedHigh, 1e-9)
}

// TestSummaryWithholds what so few replicates cannot tell.
func TestSummaryWithholds(t *testing.T) {
	s := &replicate.Set{Names: []string{"x"}, Estimates: []float64{1}, Deviance: math.NaN(),
		Replicates: []replicate.Replicate{{Index: 1, Estimates: []float64{1}}, {Index: 2, Estimates: []float64{2}}, {Index: 3, Estimates: []float64{math.NaN()}}}}
	e := summarise(t, s, 0.95).Estimates[0]
	assert.Equal(t, 2, e.Given)
	assert.InDelta(t, 0.5, e.Bias, 1e-12)
	assert.True(t, math.IsNaN(e.Low) && math.IsNaN(e.CorrectedHigh))
}
