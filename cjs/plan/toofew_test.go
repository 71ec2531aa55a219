package plan_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/plan"
)

// An interval wider than the whole scale tells nothing: there is no standard error
// of thousands of points. Where the same fish tell a thing it is told as before, and
// a change of the plan that makes it tell is worth as much as the root of n says.
func TestTooFewFish(t *testing.T) {
	survival, detection := []float64{0.9, 0.8, 0.7}, []float64{0.5, 0.05, 0.6}
	large := line(t, forecast(t, single(10_000, survival, detection)).Passed, 2, "")
	// As it goes with the root of n, half is 0.5 with so many fish.
	edge := 10_000 * math.Pow(large.Half/0.5, 2)

	few := forecast(t, single(int(edge), survival, detection))
	l := line(t, few.Passed, 2, "")
	assert.True(t, l.TooFew)
	for _, x := range []float64{l.SE, l.Half, l.HalfLow, l.HalfHigh, l.Low, l.High} {
		assert.True(t, math.IsNaN(x))
	}
	first := line(t, few.Passed, 1, "")
	assert.False(t, first.TooFew)
	assert.Greater(t, first.SE, 0.0)

	enough := line(t, forecast(t, single(int(edge)+1, survival, detection)).Passed, 2, "")
	assert.False(t, enough.TooFew)
	assert.InDelta(t, 0.5, enough.Half, 0.01, "one fish more than the edge, of tens")

	target, err := few.Plan.ParseTarget("passed at " + few.Plan.River.Sites[2].Name)
	require.NoError(t, err)
	none := plan.Option{What: "fish", Fish: 1, Detection: math.NaN(), Km: math.NaN(), Survival: math.NaN(), Cost: math.NaN()}
	lots := none
	lots.Fish = 1000
	all, err := few.Compare(context.Background(), target, []plan.Option{none, lots})
	require.NoError(t, err)
	assert.Equal(t, "1,000 more fish", all[0].Name)
	assert.True(t, math.IsNaN(all[0].Gain), "nothing to gain upon")
	assert.InEpsilon(t, 1000, all[0].Worth, 1e-6)

	curve, err := few.Curve(context.Background(), target, []float64{0.5, 2})
	require.NoError(t, err)
	assert.True(t, math.IsNaN(curve.Half[0]))
	assert.InEpsilon(t, 0.5/math.Sqrt2, curve.Half[1], 0.02, "the fish are whole")
}
