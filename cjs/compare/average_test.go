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
