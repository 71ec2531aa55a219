package likelihood

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// parting is a river of three sites on which survival of both reaches has one
// intercept and one slope by a number, and each array a detection of its own;
// fish of eight numbers, seen where they survive the sooner the larger it is.
func parting() (*Design, *Data) {
	l := layoutOf([]int{1, 1, 1})
	logit := Link{Kind: Logit}
	survival := []Entry{{0, 0, 1}, {1, 1, 1}}
	d := &Design{Layout: l, Columns: 4, Numbers: 2,
		Slots: [][][]Entry{{survival, {{2, 0, 1}}, survival, {{3, 0, 1}}}},
		Links: [][]Link{{logit, logit, logit, logit}}}
	z := []float64{-3, -2, -1.5, -1, 1, 1.5, 2, 4}
	historyGroup := func(last int, seen uint64, z ...float64) HistoryGroup {
		return HistoryGroup{Entry: 0, Last: last, Open: true, Seen: seen, Z: [][]float64{z}, N: len(z)}
	}
	return d, &Data{HistoryGroups: []HistoryGroup{historyGroup(0, 0, z[:4]...), historyGroup(2, 3, z[4], z[5]), historyGroup(1, 1, z[6]), historyGroup(2, 2, z[7])}}
}

// TestLimitsAreLimits: the log-likelihood of a design at its limit, with its
// derivatives by what is left, is that of the design far out in the direction.
func TestLimitsAreLimits(t *testing.T) {
	d, data := parting()
	x := []float64{0.3, 0.1, -0.4, 0.8}
	far := append([]float64(nil), x...)
	far[1] += 60 // of a fish with number 1 what is left is exp(−60)
	var at, near Point
	limit := d.WithLimits([][]float64{{0, 1, 0, 0}})
	NewCJS(limit, data).Eval(x, 2, &at)
	NewCJS(d, data).Eval(far, 2, &near)
	// 1e-12: rounding.
	assert.InDelta(t, near.F, at.F, 1e-12)
	for i := range 4 {
		assert.InDelta(t, near.G[i], at.G[i], 1e-12)
		for j := range 4 {
			assert.InDelta(t, near.H[i*4+j], at.H[i*4+j], 1e-12)
		}
	}
	assert.Zero(t, at.G[0])
	assert.Zero(t, at.G[1])
	assert.NotZero(t, at.G[2])
	// By hand: fish below 0 die at once; the others were seen, seen; seen,
	// missed; missed, seen.
	p, _ := Expit(-0.4)
	q, _ := Expit(0.8)
	assert.InDelta(t, 2*math.Log(p*q)+math.Log(p*(1-q))+math.Log((1-p)*q), at.F, 1e-12)

	one := Link{Kind: Fixed, Value: 1}
	zero := Link{Kind: Fixed}
	assert.Equal(t, one.At(0), limit.Prob(x, 0, 0, []float64{1, 1}))
	assert.Equal(t, zero.At(0), limit.Prob(x, 0, 0, []float64{1, -1}))
	assert.Equal(t, d.Prob(x, 0, 0, []float64{1, 0}), limit.Prob(x, 0, 0, []float64{1, 0}))
	assert.Equal(t, d.Prob(x, 0, 1, []float64{1, 5}), limit.Prob(x, 0, 1, []float64{1, 5}))
	assert.True(t, limit.Parts(0, 0))
	assert.False(t, limit.Parts(0, 1))
	assert.InDelta(t, -3, limit.AtLimit(0, 2, []float64{1, -3}), 1e-15)
	assert.Zero(t, limit.AtLimit(0, 1, []float64{1, -3}))
}

// TestLimitsInOrder: the first direction outruns the second, which settles what
// the first leaves; what moves alike for all fish is a fixed link.
func TestLimitsInOrder(t *testing.T) {
	d, _ := parting()
	x := make([]float64, 4)
	limit := d.WithLimits([][]float64{{0, 1, 0, 0}, {-2, 0, 0, 0}})
	assert.Equal(t, 1.0, limit.Prob(x, 0, 0, []float64{1, 2}).P, "rises in the first")
	assert.Equal(t, 0.0, limit.Prob(x, 0, 0, []float64{1, 0}).P, "falls in the second")
	down := d.WithLimits([][]float64{{-1, 0, 1, 0}})
	assert.Equal(t, Link{Kind: Fixed}, down.Links[0][0])
	assert.Equal(t, Link{Kind: Fixed, Value: 1}, down.Links[0][1])
	assert.Equal(t, Logit, down.Links[0][3].Kind)
	assert.Equal(t, Logit, d.Links[0][0].Kind, "the design itself stays")
	// Of a rate of mortality that rises none is left, and what is held stays.
	d.Links[0][0] = Link{Kind: Rate, Length: 3}
	d.Links[0][2] = Link{Kind: Fixed, Value: 0.4}
	up := d.WithLimits([][]float64{{1, 0, 0, 0}})
	assert.Equal(t, Link{Kind: Fixed}, up.Links[0][0])
	assert.Equal(t, 0.4, up.Links[0][2].Value)
	require.Same(t, d, d.WithLimits(nil))
}
