package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
)

// Where all variants are too early for a point so is the average, and its
// interval holds theirs; one that cannot be had at all adds nothing.
func TestMeanTooEarly(t *testing.T) {
	early := func(low, high float64) cjs.Estimate {
		e := cjs.NoEstimate(cjs.TooEarly)
		e.Low, e.High, e.Method = low, high, "profile"
		return e
	}
	e, disagree := mean([]one{{0.2, cjs.NoEstimate(cjs.Inseparable)}, {0.3, early(0.4, 0.9)}, {0.5, early(0.3, 0.8)}}, 1.96)
	assert.False(t, disagree)
	assert.Equal(t, cjs.TooEarly, e.Status)
	assert.True(t, math.IsNaN(e.Value))
	assert.Equal(t, [2]float64{0.3, 0.9}, [2]float64{e.Low, e.High})
	assert.Equal(t, "profile", e.Method)
	// A variant with a point has the say.
	e, disagree = mean([]one{{0.5, early(0.4, 0.9)}, {0.5, cjs.Estimate{Value: 0.6, SE: 0.1, Status: cjs.Estimated}}}, 1.96)
	assert.True(t, disagree)
	assert.Equal(t, 0.6, e.Value)
	e, _ = mean([]one{{1, cjs.NoEstimate(cjs.Inseparable)}}, 1.96)
	assert.Equal(t, cjs.Inseparable, e.Status)
}

// TestMeanByHand: weights 0.75 and 0.25 of 0.4 (SE 0.03) and 0.6 (SE 0.08) give
// 0.45, off by 0.05 and 0.15: SE 0.75·√(0.0009 + 0.0025) + 0.25·√(0.0064 +
// 0.0225) = 0.75·√0.0034 + 0.25·0.17.
func TestMeanByHand(t *testing.T) {
	a := cjs.Estimate{Value: 0.4, SE: 0.03, Low: 0.35, High: 0.46, Status: cjs.Estimated}
	b := cjs.Estimate{Value: 0.6, SE: 0.08, Low: 0.44, High: 0.74, Status: cjs.Estimated}
	se := 0.75*math.Sqrt(0.0034) + 0.25*0.17
	check := func(e cjs.Estimate) {
		// 1e-14: rounding.
		assert.InDelta(t, 0.45, e.Value, 1e-14)
		assert.InDelta(t, se, e.SE, 1e-14)
		factor := math.Exp(2 * se / (0.45 * 0.55))
		assert.InDelta(t, 1/(1+0.55/0.45*factor), e.Low, 1e-14)
		assert.InDelta(t, 1/(1+0.55/0.45/factor), e.High, 1e-14)
		assert.Equal(t, "logit", e.Method)
	}
	e, disagree := mean([]one{{0.75, a}, {0.25, b}}, 2)
	check(e)
	assert.False(t, disagree)
	assert.Equal(t, cjs.Estimated, e.Status)
	// A model that cannot tell leaves the others their shares of the weight.
	b.Status = cjs.Borrowed
	e, disagree = mean([]one{{0.3, a}, {0.6, cjs.NoEstimate(cjs.Inseparable)}, {0.1, b}}, 2)
	check(e)
	assert.True(t, disagree)
	assert.Equal(t, cjs.Borrowed, e.Status)
	// At a bound half the width of the interval over z stands for the SE:
	// (1 − 0.68)/4 = 0.08, and 1 is off by 0.3, 0.4 by the same.
	c := cjs.Estimate{Value: 1, SE: math.NaN(), Low: 0.68, High: 1, Status: cjs.Boundary}
	e, _ = mean([]one{{0.5, a}, {0.5, c}}, 2)
	assert.InDelta(t, 0.7, e.Value, 1e-14)
	assert.InDelta(t, 0.5*math.Hypot(0.03, 0.3)+0.5*math.Hypot(0.08, 0.3), e.SE, 1e-14)
}

// TestMeanFishByHand: 40 (SE 3) and 60 (SE 8) as above, a hundredfold; their
// spread cannot take the number below those known to have passed.
func TestMeanFishByHand(t *testing.T) {
	list := []one{{0.75, cjs.Estimate{Value: 40, SE: 3, Status: cjs.Estimated}}, {0.25, cjs.Estimate{Value: 60, SE: 8, Status: cjs.Estimated}}}
	se := 75*math.Sqrt(0.0034) + 25*0.17
	e := meanFish(list, 20, 2)
	assert.InDelta(t, 45, e.Value, 1e-12)
	assert.InDelta(t, se, e.SE, 1e-12)
	assert.InDelta(t, 45-2*se, e.Low, 1e-12)
	assert.InDelta(t, 45+2*se, e.High, 1e-12)
	assert.Equal(t, 39.0, meanFish(list, 39, 2).Low)
	assert.True(t, math.IsNaN(meanFish([]one{{1, cjs.NoEstimate(cjs.Inseparable)}}, 3, 2).Value))
}
