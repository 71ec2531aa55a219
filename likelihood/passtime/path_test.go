package passtime_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/likelihood/passtime"
)

// Where the laws are equal the path is one stretch of the whole length: value
// and derivatives, the stretches' added up, over shapes from heavy-tailed to
// almost normal and far into both tails. 1e-10: in the far tails of the heavy ones terms cancel.
func TestPathOfEqualLaws(t *testing.T) {
	for _, l := range []passtime.Law{{Km: 75, Drift: 6, Spread: 18}, {Km: 75, Drift: 6, Spread: 2}, {Km: 75, Drift: 0.05, Spread: 30}, {Km: 400, Drift: 20, Spread: 1}, {Km: 3, Drift: 0.01, Spread: 1}} {
		parts := func(shares ...float64) (p passtime.Path) {
			for _, s := range shares {
				p = append(p, passtime.Law{Km: s * l.Km, Drift: l.Drift, Spread: l.Spread})
			}
			return p
		}
		for _, p := range []passtime.Path{parts(1), parts(0.4, 0.6), parts(0.2, 0.5, 0.3)} {
			for _, q := range []float64{1e-12, 1e-6, 0.001, 0.03, 0.2, 0.5, 0.7, 0.9, 0.99, 0.9999, 1 - 1e-9} {
				day := l.Quantile(q)
				var d passtime.Derived
				tail := p.Arrivals(day, 2, &d)
				about := fmt.Sprint(l, len(p), q)
				close(t, l.CDF(day), d.Value, 1e-10, about, " share")
				close(t, l.Tail(day), tail, 1e-10, about, " tail")
				want := l.CDFDerivatives(day)
				equalSums(t, l, want, &d, 1e-9*math.Min(l.CDF(day), l.Tail(day)), about)
				p.LogDensity(day, 2, &d)
				close(t, l.LogDensity(day), d.Value, 1e-10, about, " log density")
				equalSums(t, l, l.LogDensityDerivatives(day), &d, 1e-9, about)
			}
		}
	}
}

// equalSums holds the sums over stretches of derivatives by log v and log σ to
// those of l by v and σ, relative to the largest or to least.
func equalSums(t *testing.T, l passtime.Law, want passtime.Derivatives, d *passtime.Derived, least float64, about string) {
	t.Helper()
	n := len(d.G)
	var g [2]float64
	var h [2][2]float64
	for i := range n - 1 {
		g[i%2] += d.G[i]
		for j := range n - 1 {
			h[i%2][j%2] += d.H[min(i, j)*n+max(i, j)]
		}
	}
	v, s := l.Drift, l.Spread
	wg := [2]float64{v * want.V, s * want.S}
	wh := [3]float64{v*v*want.VV + wg[0], v * s * want.VS, s*s*want.SS + wg[1]}
	tol := 1e-8*max(math.Abs(wg[0]), math.Abs(wg[1])) + least
	assert.InDeltaSlice(t, wg[:], g[:], tol, about)
	got := [3]float64{h[0][0], h[0][1], h[1][1]}
	tol = 1e-8*max(math.Abs(wh[0]), math.Abs(wh[1]), math.Abs(wh[2])) + least
	assert.InDeltaSlice(t, wh[:], got[:], tol, about)
}

// stretches is testdata/published/mpmath/stretches.json; the script that made it
// stands beside it.
type stretches struct {
	Points []struct {
		Path                  [][3]float64
		T, Density, CDF, Tail float64
		LogDensity            float64 `json:"log_density"`
		Derivatives           map[string]struct{ First, Second []float64 }
	}
}

// Several laws, held to an inversion on another contour with 120 digits or more.
// 1e-11: what the trapezoidal rule leaves and exponents of some hundreds cost.
// Derivatives are held to 1e-9 of the largest of their kind.
func TestPathAgainstMpmath(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/published/mpmath/stretches.json")
	require.NoError(t, err)
	var r stretches
	require.NoError(t, json.Unmarshal(raw, &r))
	require.Greater(t, len(r.Points), 50)
	derived := 0
	for _, x := range r.Points {
		var p passtime.Path
		var parts float64 // exponents that cancel
		for _, l := range x.Path {
			p = append(p, passtime.Law{Km: l[0], Drift: l[1], Spread: l[2]})
			parts += l[0] * l[1] / (l[2] * l[2])
		}
		about := fmt.Sprint(x.Path, " at ", x.T)
		tol := 1e-11 + 1e-14*parts
		var d passtime.Derived
		tail := p.Arrivals(x.T, 2, &d)
		close(t, x.CDF, d.Value, tol, about, " share")
		close(t, x.Tail, tail, max(tol, 1e-15/x.Tail), about, " tail")
		var v passtime.Derived
		p.LogCDF(x.T, 0, &v)
		assert.InDelta(t, math.Log(x.CDF), v.Value, tol, about)
		if want, ok := x.Derivatives["cdf"]; ok {
			derived++
			derivativesNear(t, want.First, want.Second, &d, about+" share")
		}
		p.LogDensity(x.T, 2, &d)
		assert.InDelta(t, x.LogDensity, d.Value, tol, about)
		if want, ok := x.Derivatives["log_density"]; ok {
			derivativesNear(t, want.First, want.Second, &d, about+" density")
		}
	}
	assert.Greater(t, derived, 10)
}

func derivativesNear(t *testing.T, first, second []float64, d *passtime.Derived, about string) {
	t.Helper()
	most := func(v []float64) (m float64) {
		for _, x := range v {
			m = max(m, math.Abs(x))
		}
		return m
	}
	n := len(d.G)
	require.Len(t, first, n)
	assert.InDeltaSlice(t, first, d.G, 1e-9*most(first), about)
	var upper []float64
	for i := range n {
		upper = append(upper, d.H[i*n+i:i*n+n]...)
	}
	assert.InDeltaSlice(t, second, upper, 1e-9*most(second), about)
}

// Where a path is not one, or there is no time, nothing is said.
func TestOutsideThePath(t *testing.T) {
	p := passtime.Path{{Km: 40, Drift: 6, Spread: 18}, {Km: 35, Drift: 3, Spread: 9}}
	var d passtime.Derived
	assert.Equal(t, 1.0, p.Arrivals(0, 2, &d))
	assert.Zero(t, d.Value)
	assert.Zero(t, p.Arrivals(math.Inf(1), 2, &d))
	assert.Equal(t, 1.0, d.Value)
	p.LogDensity(0, 2, &d)
	assert.True(t, math.IsInf(d.Value, -1))
	for _, bad := range []passtime.Path{{}, {{Km: 40, Drift: 6, Spread: 18}, {Km: 40, Drift: -6, Spread: 18}}} {
		assert.False(t, bad.Valid())
		assert.True(t, math.IsNaN(bad.Arrivals(3, 2, &d)))
		bad.LogCDF(3, 2, &d)
		assert.True(t, math.IsNaN(d.Value))
	}
}

func BenchmarkPathDerivatives(b *testing.B) {
	p := passtime.Path{{Km: 40, Drift: 6, Spread: 18}, {Km: 35, Drift: 3.6, Spread: 18}, {Km: 35, Drift: 2.4, Spread: 18}}
	var d passtime.Derived
	for i := range b.N {
		p.Arrivals(float64(i%400)/10+0.1, 2, &d)
	}
}

// Anywhere a search may step, however wide or narrow the law: 1e-9 of the share,
// and of the log-density 1e-7 and a billionth of itself.
func TestPathAnywhere(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	draw := func(low, high float64) float64 { return low * math.Exp(rnd.Float64()*math.Log(high/low)) }
	for range 5000 {
		l := passtime.Law{Km: draw(0.1, 500), Drift: draw(1e-4, 1e3), Spread: draw(1e-3, 1e3)}
		day := draw(1e-3, 1e3)
		if rnd.IntN(2) == 0 {
			day = l.Quantile(rnd.Float64())
		}
		p := passtime.Path{{Km: 0.3 * l.Km, Drift: l.Drift, Spread: l.Spread}, {Km: 0.7 * l.Km, Drift: l.Drift, Spread: l.Spread}}
		var d passtime.Derived
		p.Arrivals(day, 0, &d)
		assert.InDelta(t, l.CDF(day), d.Value, 1e-9, l, day)
		p.LogDensity(day, 0, &d)
		want := l.LogDensity(day)
		assert.InDelta(t, want, d.Value, 1e-7+1e-9*math.Abs(want), l, day)
	}
}
