package likelihood

import (
	"math"

	"example.org/unseen/likelihood/passtime"
)

// maxMovement is the most slots of movement a layout has: drift, spread, and
// where fish may rest the share that does and the way it loses by it.
const maxMovement = 4

// moving is a number with its derivatives by the predictors of the movement
// slots: log drift, log spread, logit of the share that rests, log of the km
// it loses.
type moving struct {
	f float64
	g [maxMovement]float64
	h [maxMovement][maxMovement]float64 // upper half
}

// law is the passage law of fish of one class and numbers.
type law struct {
	drift, spread float64
	rest, km      float64 // share, and the way lost by it
	resting       bool
}

func lawOf(d *Design, x []float64, g int, z []float64, fresh bool) law {
	l := d.Layout
	w := law{drift: d.Prob(x, g, l.Drift(), z).P, spread: d.Prob(x, g, l.Spread(), z).P}
	if fresh && l.Resting {
		w.resting = true
		w.rest, w.km = d.Prob(x, g, l.Rest(), z).P, d.Prob(x, g, l.RestKm(), z).P
	}
	return w
}

// onLogs turns derivatives by v and σ of a number that does not change when
// all lengths are scaled together into those by log v, log σ and log d: with
// d ∂/∂d = −(v ∂/∂v + σ ∂/∂σ). The third derivative is by log d.
func onLogs(p passtime.Derivatives, v, sd float64) (g [3]float64, h [3][3]float64) {
	a, b := v*p.V, sd*p.S
	aa, ab, bb := v*v*p.VV+a, v*sd*p.VS, sd*sd*p.SS+b
	g = [3]float64{a, b, -(a + b)}
	h[0][0], h[0][1], h[1][1] = aa, ab, bb
	h[0][2], h[1][2] = -(aa + ab), -(ab + bb)
	h[2][2] = aa + 2*ab + bb
	return g, h
}

// plain is p as a moving number of drift and spread alone.
func plain(p passtime.Derivatives, v, sd float64) moving {
	var out moving
	out.plain(p, v, sd)
	return out
}

// plain sets m to p, of drift and spread alone.
func (m *moving) plain(p passtime.Derivatives, v, sd float64) {
	a, b := v*p.V, sd*p.S
	*m = moving{f: p.Value}
	m.g[0], m.g[1] = a, b
	m.h[0][0], m.h[0][1], m.h[1][1] = v*v*p.VV+a, v*sd*p.VS, sd*sd*p.SS+b
}

// lagging is p, taken at km + lost, as a moving number: the way is km plus
// what is lost, and the latter is a coefficient too.
func lagging(p passtime.Derivatives, v, sd, km, lost float64) moving {
	g, h := onLogs(p, v, sd)
	out := plain(p, v, sd)
	// ∂ log d / ∂ log lost = lost/d =: s, and its own derivative s(1 − s).
	s := lost / (km + lost)
	out.g[3] = g[2] * s
	out.h[0][3], out.h[1][3] = h[0][2]*s, h[1][2]*s
	out.h[3][3] = h[2][2]*s*s + g[2]*s*(1-s)
	return out
}

// mixed is (1−ρ) a + ρ b.
func mixed(a, b moving, rho float64) moving {
	var out moving
	q := 1 - rho
	out.f = q*a.f + rho*b.f
	for i := range maxMovement {
		out.g[i] = q*a.g[i] + rho*b.g[i]
		for j := i; j < maxMovement; j++ {
			out.h[i][j] = q*a.h[i][j] + rho*b.h[i][j]
		}
	}
	// ρ on its logit: ρ' = ρq, ρ'' = ρq(q − ρ).
	out.g[2] = rho * q * (b.f - a.f)
	out.h[2][2] = rho * q * (q - rho) * (b.f - a.f)
	for i := range maxMovement {
		if i != 2 {
			out.h[min(i, 2)][max(i, 2)] = rho * q * (b.g[i] - a.g[i])
		}
	}
	return out
}

// come sets f to the chance to have come over km by days; late is its complement.
// Order 0 leaves f alone.
func (w *law) come(km, days float64, order int, f *moving) (late float64) {
	one := passtime.Law{Km: km, Drift: w.drift, Spread: w.spread}
	two := passtime.Law{Km: km + w.km, Drift: w.drift, Spread: w.spread}
	if order < 1 {
		late = one.Tail(days)
		if w.resting {
			late = (1-w.rest)*late + w.rest*two.Tail(days)
		}
		return late
	}
	p, late := one.Arrivals(days)
	f.plain(p, w.drift, w.spread)
	if w.resting {
		q, rested := two.Arrivals(days)
		late = (1-w.rest)*late + w.rest*rested
		*f = mixed(*f, lagging(q, w.drift, w.spread, km, w.km), w.rest)
	}
	return late
}

// logDensity is the log-density of a time over km, for fish of which a share rests.
func (w law) logDensity(km, days float64) moving {
	a := plain(passtime.Law{Km: km, Drift: w.drift, Spread: w.spread}.LogDensityDerivatives(days), w.drift, w.spread)
	b := lagging(passtime.Law{Km: km + w.km, Drift: w.drift, Spread: w.spread}.LogDensityDerivatives(days), w.drift, w.spread, km, w.km)
	// Both densities are taken relative to the larger.
	top := max(a.f, b.f)
	m := mixed(exponential(a, top), exponential(b, top), w.rest)
	out := moving{f: top + math.Log(m.f)}
	for i := range maxMovement {
		out.g[i] = m.g[i] / m.f
		for j := range i + 1 {
			out.h[j][i] = m.h[j][i]/m.f - m.g[i]*m.g[j]/(m.f*m.f)
		}
	}
	return out
}

// exponential is exp(a − top).
func exponential(a moving, top float64) moving {
	e := math.Exp(a.f - top)
	out := moving{f: e}
	for i := range maxMovement {
		out.g[i] = e * a.g[i]
		for j := range i + 1 {
			out.h[j][i] = e * (a.h[j][i] + a.g[i]*a.g[j])
		}
	}
	return out
}
