package passtime

import "math"

// Midway is, of the migrants that took days over near and then far km, all at the
// same drift and spread, the share that came to the end of the near km between from
// and to days. It does not hang on the drift: with z the ratio of the days for the
// far km to those for the near ones, and Φ the normal distribution function,
//
//	P(ratio ≤ z) = Φ(a) + (near − far)/(near + far) exp(2 near far/(σ² days)) Φ(−b)
//	a, b = (near z ∓ far)/(σ √(days z))
//
// for the density of the ratio is proportional to z^(−3/2) (1 + z) exp(−a²/2), the
// inverse Gaussian law and its reciprocal in shares of near and far. The derivatives
// are by σ; those by drift are 0.
func Midway(spread, near, far, days, from, to float64) (d Derivatives) {
	first, last := ratioShare(spread, near, far, days, from), ratioShare(spread, near, far, days, to)
	if first.upper && !last.upper {
		d.Value = 1
	}
	add := func(sign float64, r *ratio) {
		if r.upper {
			sign = -sign
		}
		d.Value, d.S, d.SS = d.Value+sign*r.Value, d.S+sign*r.S, d.SS+sign*r.SS
	}
	add(1, &first)
	add(-1, &last)
	return d
}

// ratio is the share of migrants with a ratio of z at most or, where upper, above.
type ratio struct {
	Derivatives
	upper bool
}

// ratioShare is one of both shares, the smaller but by little, at x days for the
// near km.
func ratioShare(spread, near, far, days, x float64) (r ratio) {
	switch {
	case x <= 0:
		return ratio{upper: true}
	case x >= days:
		return ratio{}
	}
	scale := spread * math.Sqrt(days*(days-x)/x)
	a, b := (near*(days-x)/x-far)/scale, (near*(days-x)/x+far)/scale
	c := (near - far) / (near + far)
	if r.upper = a > 0; r.upper {
		a, c = -a, -c
	}
	f, m, k := phiTimes(a, 1), mills(b), 4*near*far/(spread*spread*days)
	// By log σ: a' = −a, b' = −b, k' = −2k, f' = a²f, m' = b − b²m.
	e := b - k*m
	r.Value = 0.5*math.Erfc(-a/math.Sqrt2) + c*f*m
	first := f * (c*e - a)
	second := f * (a - a*a*a + c*(a*a*e-b+2*k*m-k*b*(1-b*m)))
	r.S, r.SS = first/spread, (second-first)/(spread*spread)
	return r
}
