package cjs

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestGapProbability holds the law of the largest gap to gaps drawn: 20,000 sets
// of 30 points, within 4 Monte Carlo standard errors; and to the closed form for
// one point, 2(1 − g).
func TestGapProbability(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	const n, draws, g = 30, 20000, 0.27
	var more float64
	for range draws {
		points := []float64{0, 1}
		for range n {
			points = append(points, rnd.Float64())
		}
		slices.Sort(points)
		for i, x := range points[1:] {
			if x-points[i] >= g {
				more++
				break
			}
		}
	}
	want := gapProbability(n, g)
	assert.Less(t, want, 0.1, "the sum is taken")
	assert.InDelta(t, more/draws, want, 4*math.Sqrt(want/draws))
	assert.InDelta(t, 2*0.04, gapProbability(1, 0.96), 1e-12)
	assert.LessOrEqual(t, gapProbability(500, 0.001), 1.0)
}
