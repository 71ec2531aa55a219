package travel

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/likelihood/passtime"
)

// TestExpectedIsOfThoseThatCame: fish that had few days can only have taken
// few; the bars of all days hold all fish, and the density is their slope.
func TestExpectedIsOfThoseThatCame(t *testing.T) {
	law := passtime.Law{Km: 20, Drift: 4, Spread: 6}
	of := func(room ...float64) *Expected {
		slices.Sort(room)
		e := &Expected{law: law, windowed: &journeys{}, room: room, weight: make([]float64, len(room)+1)}
		for i, w := range slices.Backward(room) {
			e.weight[i] = e.weight[i+1] + 1/e.cdf(w)
		}
		return e
	}
	inf := math.Inf(1)
	over := of(inf, inf, inf)
	// Sums of a few numbers near 1: rounding alone.
	assert.InDelta(t, 3*(law.CDF(6)-law.CDF(2)), over.Between(2, 6), 1e-14)
	assert.InDelta(t, 3*law.Density(5), over.Density(5), 1e-14)

	running := of(3, 7, 7, 12)
	sum := 0.0
	for day := range 12 {
		sum += running.Between(float64(day), float64(day+1))
	}
	assert.InDelta(t, 4, sum, 1e-12, "every fish came on some day")
	assert.InDelta(t, 3, running.Between(0, 3)-law.CDF(3)*(2/law.CDF(7)+1/law.CDF(12))+2, 1e-12, "by the third day: the first fish, and a share of the others")
	assert.Zero(t, running.Density(12.5), "nobody had as many days")
	assert.Zero(t, running.Between(12, 20))
	// A difference quotient of step 1e-4 is off by about f''·1e-8.
	for _, day := range []float64{2, 5, 9} {
		assert.InDelta(t, (running.Between(0, day+5e-5)-running.Between(0, day-5e-5))/1e-4, running.Density(day), 1e-6)
	}
}
