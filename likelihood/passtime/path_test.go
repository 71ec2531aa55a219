package passtime_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/likelihood/passtime"
)

// Where the laws are equal the path is one stretch of the whole length: value
// and derivatives, the stretches' added up, over shapes from heavy-tailed to
// almost normal and far into both tails.
func TestPathOfEqualLaws(t *testing.T) {
	worst := 0.0
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
				worst = max(worst, math.Abs(d.Value/l.CDF(day)-1), math.Abs(tail/l.Tail(day)-1)*min(1, l.Tail(day)*1e2))
				close(t, l.CDF(day), d.Value, 1e-9, about, " share")
				close(t, l.Tail(day), tail, 1e-9, about, " tail")
				want := l.CDFDerivatives(day)
				equalSums(t, l, want, &d, 1e-9*math.Min(l.CDF(day), l.Tail(day)), about)
				p.LogDensity(day, 2, &d)
				close(t, l.LogDensity(day), d.Value, 1e-9, about, " log density")
				equalSums(t, l, l.LogDensityDerivatives(day), &d, 1e-9, about)
			}
		}
	}
	t.Log("worst", worst)
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
