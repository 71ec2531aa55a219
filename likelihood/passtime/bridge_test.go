package passtime

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"
)

// TestMidwayIsItsIntegral holds the share to the density it is made of, by the
// Gauss–Legendre rule on short panels, and its derivatives to differences; whole time
// is all, and the parts add up.
func TestMidwayIsItsIntegral(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 22))
	for range 200 {
		near, far, days := 5+60*rnd.Float64(), 5+60*rnd.Float64(), 2+20*rnd.Float64()
		spread, drift := 3+15*rnd.Float64(), 2+10*rnd.Float64()
		from, to := days*rnd.Float64(), days*rnd.Float64()
		from, to = min(from, to), max(from, to)
		above, below, whole := Law{near, drift, spread}, Law{far, drift, spread}, Law{near + far, drift, spread}
		sum, h := 0.0, (to-from)/100
		for i := range 100 {
			a := from + h*float64(i)
			sum += quad.Fixed(func(x float64) float64 {
				return math.Exp(above.LogDensity(x) + below.LogDensity(days-x) - whole.LogDensity(days))
			}, a, a+h, 10, quad.Legendre{}, 0)
		}
		d := Midway(spread, near, far, days, from, to)
		assert.InDelta(t, sum, d.Value, 1e-10)
		at := func(s float64) float64 { return Midway(s, near, far, days, from, to).Value }
		e := 1e-4 * spread
		assert.InDelta(t, (at(spread+e)-at(spread-e))/(2*e), d.S, 1e-7/spread)
		assert.InDelta(t, (at(spread+e)-2*d.Value+at(spread-e))/(e*e), d.SS, 1e-5/spread/spread)
		assert.InDelta(t, 1, Midway(spread, near, far, days, -1, from).Value+d.Value+Midway(spread, near, far, days, to, math.Inf(1)).Value, 1e-14)
	}
	assert.Equal(t, Derivatives{Value: 1}, Midway(9, 40, 30, 12, math.Inf(-1), 12))
}

// TestMidwayInTheTails: far out the share keeps its digits; by mirror it is that of
// the other way.
func TestMidwayInTheTails(t *testing.T) {
	for _, x := range []float64{0.15, 0.3, 1, 11, 11.8} {
		a, b := Midway(4, 40, 30, 12, 0, x), Midway(4, 30, 40, 12, 12-x, 12)
		assert.InEpsilon(t, a.Value, b.Value, 1e-9)
	}
	tiny := Midway(4, 40, 30, 12, 0, 0.3).Value
	assert.Greater(t, tiny, 0.0)
	assert.Less(t, tiny, 1e-50)
}
