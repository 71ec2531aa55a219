package passtime_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/likelihood/passtime"
)

// reference is testdata/published/scipy/first_passage.json; SOURCE.md beside
// it says how it was made.
type reference struct {
	Points []struct {
		T, Km, Drift, Spread float64
		Scipy, Exact         map[string]*float64
		Derivatives          map[string][5]float64
	}
	Quantiles []struct {
		Q, Km, Drift, Spread float64
		Scipy                *float64
		Exact                float64
	}
}

func load(t *testing.T) *reference {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/published/scipy/first_passage.json")
	require.NoError(t, err)
	var r reference
	require.NoError(t, json.Unmarshal(raw, &r))
	require.Greater(t, len(r.Points), 100)
	require.Greater(t, len(r.Quantiles), 90)
	return &r
}

// close is a relative difference of at most tol.
func close(t *testing.T, want, got, tol float64, about ...any) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Abs(want)) {
		t.Errorf("%v: want %.17g, got %.17g, relative difference %.2g", fmt.Sprint(about...), want, got, math.Abs(got/want-1))
	}
}

// 1e-12 is what the values are promised to: it leaves a density of 1e-300,
// whose exponent is 700, three units in the last place of that exponent.
const promised = 1e-12

func TestLawAgainstSciPy(t *testing.T) {
	agreed := 0
	for _, p := range load(t).Points {
		l := passtime.Law{Km: p.Km, Drift: p.Drift, Spread: p.Spread}
		got := map[string]float64{
			"log_density": l.LogDensity(p.T), "density": l.Density(p.T),
			"cdf": l.CDF(p.T), "log_cdf": l.LogCDF(p.T), "tail": l.Tail(p.T), "log_tail": l.LogTail(p.T),
		}
		for name, exact := range p.Exact {
			about := fmt.Sprint(name, " of ", l, " at ", p.T)
			if exact == nil {
				// Below the smallest positive number, 5e-324.
				assert.LessOrEqual(t, math.Abs(got[name]), 5e-324, about)
				continue
			}
			if math.Abs(*exact) < 2.3e-308 {
				// Below the normal range numbers have fewer digits: half a
				// unit of the smallest.
				assert.InDelta(t, *exact, got[name], 5e-324+promised**exact, about)
				continue
			}
			close(t, *exact, got[name], promised, about)
			if s := p.Scipy[name]; s != nil && math.Abs(*s-*exact) <= promised*math.Abs(*exact) {
				agreed++
				close(t, *s, got[name], 2*promised, about)
			}
		}
	}
	assert.Greater(t, agreed, 600, "SciPy agrees with the exact values almost everywhere")
}

func TestQuantileAgainstSciPy(t *testing.T) {
	for _, q := range load(t).Quantiles {
		l := passtime.Law{Km: q.Km, Drift: q.Drift, Spread: q.Spread}
		got := l.Quantile(q.Q)
		close(t, q.Exact, got, promised, l, " quantile ", q.Q)
		if q.Scipy != nil && math.Abs(*q.Scipy-q.Exact) <= promised*q.Exact {
			close(t, *q.Scipy, got, 2*promised, l, " quantile ", q.Q)
		}
	}
}

// Derivatives are sums of terms of either sign: what is promised is 1e-10 of
// the largest term, which is of the order of the largest derivative of its
// kind in units of v and σ.
func TestDerivativesAgainstExactDifferences(t *testing.T) {
	n := 0
	for _, p := range load(t).Points {
		l := passtime.Law{Km: p.Km, Drift: p.Drift, Spread: p.Spread}
		for name, want := range p.Derivatives {
			var d passtime.Derivatives
			var value float64
			switch name {
			case "log_density":
				d, value = l.LogDensityDerivatives(p.T), l.LogDensity(p.T)
			case "cdf":
				d, value = l.CDFDerivatives(p.T), l.CDF(p.T)
			case "log_cdf":
				d, value = l.LogCDFDerivatives(p.T), l.LogCDF(p.T)
			}
			assert.Equal(t, value, d.Value)
			v, s := p.Drift, p.Spread
			unit := [5]float64{v, s, v * v, v * s, s * s}
			got := [5]float64{d.V, d.S, d.VV, d.VS, d.SS}
			var scale [2]float64
			for i := range want {
				k := 0
				if i >= 2 {
					k = 1
				}
				scale[k] = max(scale[k], math.Abs(want[i])*unit[i])
			}
			for i := range want {
				k := 0
				if i >= 2 {
					k = 1
				}
				n++
				if math.Abs(got[i]-want[i])*unit[i] > 1e-10*scale[k] {
					t.Errorf("derivative %d of %s of %v at %v: want %g, got %g", i, name, l, p.T, want[i], got[i])
				}
			}
		}
	}
	assert.Greater(t, n, 1000)
}

// The time over two stretches is the sum of the times over each: the
// convolution of their densities is the density of the whole. The trapezoidal
// rule in log(t/(T−t)) converges exponentially, as the integrand vanishes with
// all its derivatives at both ends.
func TestClosureUnderAddition(t *testing.T) {
	const drift, spread = 6.0, 18.0
	first := passtime.Law{Km: 40, Drift: drift, Spread: spread}
	second := passtime.Law{Km: 35, Drift: drift, Spread: spread}
	whole := passtime.Law{Km: 75, Drift: drift, Spread: spread}
	for _, T := range []float64{1.5, 6, 12.5, 40} {
		var sum float64
		const h = 1.0 / 64
		for i := -40 * 64; i <= 40*64; i++ {
			x := float64(i) * h
			p, q := 1/(1+math.Exp(-x)), 1/(1+math.Exp(x))
			sum += h * T * p * q * first.Density(T*p) * second.Density(T*q)
		}
		close(t, whole.Density(T), sum, 1e-12, "density after ", T, " days")
		// As a check of the check: another distance does not fit.
		other := passtime.Law{Km: 76, Drift: drift, Spread: spread}
		assert.Greater(t, math.Abs(sum/other.Density(T)-1), 1e-3)
	}
	// Means and variances add up too.
	close(t, whole.Mean(), first.Mean()+second.Mean(), 1e-15)
	close(t, whole.SD(), math.Hypot(first.SD(), second.SD()), 1e-15)
}

// F and its tail against the density, by the trapezoidal rule in log t.
func TestMomentsAndSharesByIntegration(t *testing.T) {
	l := passtime.Law{Km: 21.4, Drift: 9, Spread: 11}
	const h = 1.0 / 256
	var mass, mean, square, inverse, below float64
	for i := -20 * 256; i <= 20*256; i++ {
		x := math.Exp(float64(i) * h)
		w := h * x * l.Density(x)
		mass += w
		mean += w * x
		square += w * x * x
		inverse += w / x
		if i < 0 {
			below += w
		} else if i == 0 {
			below += w / 2
		}
	}
	close(t, 1, mass, 1e-12)
	close(t, l.Mean(), mean, 1e-12)
	close(t, l.SD(), math.Sqrt(square-mean*mean), 1e-11)
	close(t, l.HarmonicMean(), 1/inverse, 1e-12)
	// The cut at t = 1 leaves the rule's error of order h².
	close(t, l.CDF(1), below, 1e-4)
	close(t, l.Tail(1), mass-below, 1e-4)
}

func TestOutsideTheLaw(t *testing.T) {
	l := passtime.Law{Km: 40, Drift: 6, Spread: 18}
	for _, x := range []float64{0, -1, math.Inf(-1)} {
		assert.Zero(t, l.Density(x))
		assert.True(t, math.IsInf(l.LogDensity(x), -1))
		assert.Zero(t, l.CDF(x))
		assert.True(t, math.IsInf(l.LogCDF(x), -1))
		assert.Equal(t, 1.0, l.Tail(x))
		assert.Zero(t, l.LogTail(x))
	}
	assert.Equal(t, 1.0, l.CDF(math.Inf(1)))
	assert.Zero(t, l.Tail(math.Inf(1)))
	assert.Zero(t, l.Density(math.Inf(1)))
	assert.Zero(t, l.Quantile(0))
	assert.True(t, math.IsInf(l.Quantile(1), 1))
	assert.True(t, math.IsNaN(l.Quantile(1.1)))
	assert.True(t, math.IsNaN(l.CDF(math.NaN())))
	for _, bad := range []passtime.Law{{}, {Km: 1, Drift: -1, Spread: 1}, {Km: 1, Drift: 1, Spread: math.Inf(1)}, {Km: math.NaN(), Drift: 1, Spread: 1}} {
		assert.False(t, bad.Valid())
		for _, v := range []float64{bad.Density(1), bad.LogDensity(1), bad.CDF(1), bad.LogCDF(1), bad.Tail(1), bad.LogTail(1), bad.Quantile(0.5)} {
			assert.True(t, math.IsNaN(v), bad)
		}
	}
}

// The share below any day, and the day of any share, are each other's inverse
// and never fall, through both tails.
func TestQuantileInvertsTheShare(t *testing.T) {
	for _, l := range []passtime.Law{{Km: 40, Drift: 6, Spread: 18}, {Km: 0.001, Drift: 1e-6, Spread: 50}, {Km: 5000, Drift: 20, Spread: 0.5}} {
		last := 0.0
		for e := -300; e <= 300; e += 5 {
			q := 1 / (1 + math.Exp(-float64(e)/8))
			if q == 1 {
				break
			}
			d := l.Quantile(q)
			assert.GreaterOrEqual(t, d, last, "%v %v", l, q)
			last = d
			// A day's rounding moves the share by its density: that much
			// and the promised digits are allowed.
			tol := promised + 4e-16*d*l.Density(d)/min(q, 1-q)
			close(t, q, l.CDF(d), tol, l, " share ", q)
			close(t, 1-q, l.Tail(d), tol, l, " tail ", q)
		}
	}
}

func BenchmarkCDFDerivatives(b *testing.B) {
	l := passtime.Law{Km: 40, Drift: 6, Spread: 18}
	var sum float64
	for i := range b.N {
		sum += l.CDFDerivatives(float64(i%400)/10 + 0.1).SS
	}
	_ = sum
}
