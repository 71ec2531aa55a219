// Package passtime is the first-passage law of a migrant: how long a fish that
// drifts at v km/day and spreads with σ km/√day takes to reach a point d km
// farther down for the first time. That time has the inverse Gaussian
// distribution with mean d/v and shape d²/σ² (Schrödinger 1915; Tweedie 1957,
// Annals of Mathematical Statistics 28:362–377; for migrating fish Zabel &
// Anderson 1997, North American Journal of Fisheries Management 17:93–100).
//
// With v and σ shared, times over two reaches add up to the time over both:
// the law of d₁ followed by d₂ is the law of d₁+d₂.
//
// Begin with [Law]; ExampleLaw_CDF shows it. Distances are in km, times in
// days.
package passtime

import "math"

// Law is the distribution of the days to first passage.
type Law struct {
	Km    float64 // distance d > 0
	Drift float64 // v > 0, km/day
	// Spread is σ > 0, km/√day: after t days the fish of one start are spread
	// over the river with a standard deviation of σ√t km.
	Spread float64
}

// Valid tells whether all three numbers are positive and finite. The methods
// of a law that is not valid give NaN.
func (l Law) Valid() bool {
	ok := func(x float64) bool { return x > 0 && !math.IsInf(x, 1) }
	return ok(l.Km) && ok(l.Drift) && ok(l.Spread)
}

// Mean is d/v, in days.
func (l Law) Mean() float64 { return l.Km / l.Drift }

// SD is the standard deviation σ√d / v^{3/2}, in days.
func (l Law) SD() float64 { return l.Spread / l.Drift * math.Sqrt(l.Km/l.Drift) }

// HarmonicMean is 1/E[1/t] = d²/(dv + σ²), in days.
func (l Law) HarmonicMean() float64 {
	return l.Km * l.Km / (l.Km*l.Drift + l.Spread*l.Spread)
}

// outside settles a time where the law has no density: f(t) = 0 and F(t) is
// 0 up to 0 and 1 at infinity.
func (l Law) outside(t float64) (cdf float64, out bool) {
	switch {
	case !l.Valid() || math.IsNaN(t):
		return math.NaN(), true
	case t <= 0:
		return 0, true
	case math.IsInf(t, 1):
		return 1, true
	}
	return 0, false
}

// standard are the standardised distances of the front of the migration that
// has left (a) and of its image (b): a = (vt − d)/(σ√t), b = (vt + d)/(σ√t).
func (l Law) standard(t float64) (a, b float64) {
	s := l.Spread * math.Sqrt(t)
	return math.FMA(l.Drift, t, -l.Km) / s, math.FMA(l.Drift, t, l.Km) / s
}

// LogDensity is log f(t), t in days:
//
//	log f = log d − log σ − ½ log 2π − ³⁄₂ log t − (d − vt)²/(2σ²t)
func (l Law) LogDensity(t float64) float64 {
	if c, out := l.outside(t); out {
		return math.Log(0 * c)
	}
	a, _ := l.standard(t)
	return math.Log(l.Km/l.Spread) - 1.5*math.Log(t) + logPhi(a)
}

// Density is f(t) per day.
func (l Law) Density(t float64) float64 {
	if c, out := l.outside(t); out {
		return 0 * c
	}
	a, _ := l.standard(t)
	return phiTimes(a, l.Km/(l.Spread*t*math.Sqrt(t)))
}

// CDF is F(t), the share that has passed by day t:
//
//	F = Φ(a) + exp(2vd/σ²) Φ(−b) = Φ(a) + φ(a) M(b)
//
// with M = (1 − Φ)/φ, so that nothing overflows and nothing cancels.
func (l Law) CDF(t float64) float64 {
	if c, out := l.outside(t); out {
		return c
	}
	a, b := l.standard(t)
	return min(1, 0.5*math.Erfc(-a/math.Sqrt2)+phiTimes(a, mills(b)))
}

// LogCDF is log F(t), finite wherever the law has density.
func (l Law) LogCDF(t float64) float64 {
	if c, out := l.outside(t); out {
		return math.Log(c)
	}
	a, b := l.standard(t)
	if a < 0 {
		return logPhi(a) + math.Log(mills(-a)+mills(b))
	}
	return math.Log1p(-l.Tail(t))
}

// Tail is 1 − F(t), the share that is still to pass after day t, without
// cancellation.
func (l Law) Tail(t float64) float64 {
	if c, out := l.outside(t); out {
		return 1 - c
	}
	a, b := l.standard(t)
	return l.tail(t, a, b, phiTimes(a, 1), mills(b))
}

// tail is 1 − F(t) from f = φ(a) and m = M(b).
func (l Law) tail(t, a, b, f, m float64) float64 {
	if a < 0 && b-a >= near {
		return 1 - f*(mills(-a)+m)
	}
	if gap := l.gap(t); !apart(a, gap) {
		return f * nearDrop(a, gap)
	}
	return f * (mills(a) - m)
}

// LogTail is log(1 − F(t)), finite at every finite t.
func (l Law) LogTail(t float64) float64 {
	if c, out := l.outside(t); out {
		return math.Log(1 - c)
	}
	a, b := l.standard(t)
	if a < 0 && b-a >= near {
		return math.Log1p(-l.CDF(t))
	}
	return logPhi(a) + math.Log(millsDrop(a, l.gap(t)))
}

// gap is b − a = 2d/(σ√t), without cancellation.
func (l Law) gap(t float64) float64 { return 2 * l.Km / (l.Spread * math.Sqrt(t)) }

// Quantile is the day by which the share q of the migrants has passed: 0 at 0,
// infinity at 1, NaN outside [0, 1].
func (l Law) Quantile(q float64) float64 {
	switch {
	case !l.Valid() || !(q >= 0 && q <= 1):
		return math.NaN()
	case q == 0:
		return 0
	case q == 1:
		return math.Inf(1)
	}
	// Newton's method in log t on log(−log P), P the smaller tail, which is
	// nearly straight; a bracket catches what it overshoots.
	lower := q <= 0.5
	target := math.Log(q)
	if !lower {
		target = math.Log1p(-q)
	}
	low, high := math.Inf(-1), math.Inf(1)
	x := math.Log(l.Mean())
	for range 200 {
		t := math.Exp(x)
		var v, slope float64 // log P and its derivative by log t
		if lower {
			v, slope = l.LogCDF(t), t*l.rate(t)
		} else {
			v, slope = l.LogTail(t), -t*l.hazard(t)
		}
		step := math.Log(target/v) * v / slope
		if math.Abs(step) < 1e-10 {
			// This step of Newton's method has all its digits.
			return t * math.Exp(step)
		}
		if step < 0 {
			high = x
		} else {
			low = x
		}
		next := x + step
		if !(next > low && next < high) {
			switch {
			case math.IsInf(low, -1):
				next = x - 2
			case math.IsInf(high, 1):
				next = x + 2
			default:
				next = (low + high) / 2
			}
		}
		x = next
	}
	return math.Exp(x)
}

// rate is f/F, per day.
func (l Law) rate(t float64) float64 {
	a, b := l.standard(t)
	if a < 0 {
		return l.Km / (l.Spread * t * math.Sqrt(t) * (mills(-a) + mills(b)))
	}
	return l.Density(t) / l.CDF(t)
}

// hazard is f/(1 − F), per day.
func (l Law) hazard(t float64) float64 {
	a, b := l.standard(t)
	if a < 0 && b-a >= near {
		return l.Density(t) / l.Tail(t)
	}
	return l.Km / (l.Spread * t * math.Sqrt(t) * millsDrop(a, l.gap(t)))
}
