package passtime

import "math"

// Derivatives is a function's value with its derivatives by the drift v and
// the spread σ.
type Derivatives struct {
	Value      float64 // the function itself
	V, S       float64 // ∂/∂v, ∂/∂σ
	VV, VS, SS float64 // second derivatives
}

// Add adds w times e to d: the derivatives of a weighted sum.
func (d *Derivatives) Add(w float64, e Derivatives) {
	d.Value += w * e.Value
	d.V += w * e.V
	d.S += w * e.S
	d.VV += w * e.VV
	d.VS += w * e.VS
	d.SS += w * e.SS
}

// LogDensityDerivatives is log f(t) with its derivatives. Where the density is
// zero the value is −Inf and the derivatives are 0.
func (l Law) LogDensityDerivatives(t float64) Derivatives {
	if _, out := l.outside(t); out {
		return Derivatives{Value: l.LogDensity(t)}
	}
	// With r = d − vt: log f = … − log σ − r²/(2σ²t).
	s2 := l.Spread * l.Spread
	r := -math.FMA(l.Drift, t, -l.Km)
	w := r * r / (s2 * t)
	return Derivatives{
		Value: l.LogDensity(t),
		V:     r / s2,
		S:     (w - 1) / l.Spread,
		VV:    -t / s2,
		VS:    -2 * r / (s2 * l.Spread),
		SS:    (1 - 3*w) / s2,
	}
}

// CDFDerivatives is F(t) with its derivatives.
func (l Law) CDFDerivatives(t float64) Derivatives {
	if c, out := l.outside(t); out {
		return Derivatives{Value: c}
	}
	a, b := l.standard(t)
	d := l.cdf(t, a, phiTimes(a, 1), phiTimes(a, mills(b)))
	d.Value = l.CDF(t)
	return d
}

// Arrivals is F(t) with its derivatives, and the share that is still to pass,
// 1 − F(t), without cancellation: [Law.CDFDerivatives] and [Law.Tail] for about
// the price of one of them, but that F is taken as 1 less the tail.
func (l Law) Arrivals(t float64) (d Derivatives, tail float64) {
	if c, out := l.outside(t); out {
		return Derivatives{Value: c}, 1 - c
	}
	a, b := l.standard(t)
	f, m := phiTimes(a, 1), mills(b)
	d, tail = l.cdf(t, a, f, f*m), l.tail(t, a, b, f, m)
	d.Value = 1 - tail
	return d, tail
}

// LogCDFDerivatives is log F(t) with its derivatives, finite wherever the law
// has density.
func (l Law) LogCDFDerivatives(t float64) Derivatives {
	if c, out := l.outside(t); out {
		return Derivatives{Value: math.Log(c)}
	}
	a, b := l.standard(t)
	m := mills(b)
	if a < 0 {
		// All in units of φ(a), which may be too small for a number.
		sum := mills(-a) + m
		d := l.cdf(t, a, 1, m).over(sum)
		d.Value = logPhi(a) + math.Log(sum)
		return d
	}
	f := phiTimes(a, 1)
	tail := l.tail(t, a, b, f, m)
	d := l.cdf(t, a, f, f*m).over(1 - tail)
	d.Value = math.Log1p(-tail)
	return d
}

// cdf is the derivatives of F from f = φ(a) and g = φ(a) M(b) =
// exp(2vd/σ²) Φ(−b), in any unit. Since ∂a/∂v and ∂b/∂v are equal and φ(a) =
// exp(2vd/σ²) φ(b), the first derivative by v is 2d/σ² · g alone.
func (l Law) cdf(t, a, f, g float64) Derivatives {
	v, s, root := l.Drift, l.Spread, math.Sqrt(t)
	k := 2 * l.Km / (s * s)
	gv := k*g - root/s*f
	gs := math.FMA(v, t, l.Km)/(s*s*root)*f - 2*k*v/s*g
	e := f/root - 2*v/s*g // ∂F/∂σ = k·e
	return Derivatives{
		V:  k * g,
		S:  k * e,
		VV: k * gv,
		VS: k * (gs - 2/s*g),
		SS: k * (a*a*f/(s*root) + 2*v/(s*s)*g - 2*v/s*gs - 2/s*e),
	}
}

// over turns the derivatives of F into those of log F.
func (d Derivatives) over(f float64) Derivatives {
	v, s := d.V/f, d.S/f
	return Derivatives{V: v, S: s, VV: d.VV/f - v*v, VS: d.VS/f - v*s, SS: d.SS/f - s*s}
}
