package likelihood

import (
	"math"

	"example.org/unseen/likelihood/passtime"
)

// moving is a number with its derivatives by the predictors of the movement
// slots: log drift and log spread of each law, logit of the share that rests,
// log of the km it loses.
type moving struct {
	f float64
	g []float64
	h []float64 // square, its upper half used
}

func newMoving(n int) moving { return moving{g: make([]float64, n), h: make([]float64, n*n)} }

func (m *moving) clear() {
	m.f = 0
	clear(m.g)
	clear(m.h)
}

// at is the place of a second derivative in h.
func (m *moving) at(i, j int) *float64 { return &m.h[min(i, j)*len(m.g)+max(i, j)] }

// way is how fish of one class and numbers travel.
type way struct {
	layout     *Layout
	laws       passtime.Path // by law; the km are those of a stretch in hand
	rest, lost float64       // share that rests, and the way lost by it
	resting    bool
	path       passtime.Derived
	other, out moving // scratch
}

func newWay(l *Layout) way {
	n := len(l.moves)
	return way{layout: l, laws: make(passtime.Path, l.LawCount()), other: newMoving(n), out: newMoving(n)}
}

func (w *way) set(d *Design, x []float64, g int, z []float64, fresh bool) {
	l := w.layout
	for i := range w.laws {
		w.laws[i] = passtime.Law{Drift: d.prob(x, g, l.Drift(i), z).P, Spread: d.prob(x, g, l.Spread(i), z).P}
	}
	if w.resting = fresh && l.Resting; w.resting {
		w.rest, w.lost = d.prob(x, g, l.Rest(), z).P, d.prob(x, g, l.RestKm(), z).P
	}
}

// stretches are the laws from site i to site j, with lost km more of the first,
// and the number of that.
func (w *way) stretches(i, j int, lost float64) (first int, path passtime.Path) {
	l := w.layout
	first = l.LawOf(i)
	last := l.LawOf(j - 1)
	if first == last {
		w.laws[first].Km = l.Distance(i, j) + lost
		return first, w.laws[first : first+1]
	}
	for s := first; s <= last; s++ {
		from, to := l.Stretch(s)
		w.laws[s].Km = l.Distance(max(i, from), min(j, to))
	}
	w.laws[first].Km += lost
	return first, w.laws[first : last+1]
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

// plain sets m to p, a number of law i alone over km, of which lost are lost by
// a rest: then the latter are a coefficient too.
func (m *moving) plain(p passtime.Derivatives, i int, law *passtime.Law, lost float64) {
	g, h := onLogs(p, law.Drift, law.Spread)
	n, a, b := len(m.g), 2*i, 2*i+1
	if n > 2 { // else all of it is set
		m.clear()
	}
	m.f = p.Value
	m.g[a], m.g[b] = g[0], g[1]
	m.h[a*n+a], m.h[a*n+b], m.h[b*n+b] = h[0][0], h[0][1], h[1][1]
	if lost > 0 {
		// ∂ log d / ∂ log lost = lost/d =: s, and its own derivative s(1 − s).
		s, k := lost/law.Km, len(m.g)-1
		m.g[k] = g[2] * s
		*m.at(a, k), *m.at(b, k) = h[0][2]*s, h[1][2]*s
		*m.at(k, k) = h[2][2]*s*s + g[2]*s*(1-s)
	}
}

// joined sets m to d, a number of several laws from the i-th on; km is that of
// the first, lost km of it included.
func (m *moving) joined(d *passtime.Derived, i int, km, lost float64) {
	m.clear()
	m.f = d.Value
	n, k := len(d.G)-1, len(m.g)-1
	for a := range n {
		m.g[2*i+a] = d.G[a]
		copy(m.h[(2*i+a)*len(m.g)+2*i+a:], d.H[a*len(d.G)+a:a*len(d.G)+n])
	}
	if lost > 0 {
		s := lost / km
		m.g[k] = d.G[n] * s
		for a := range n {
			*m.at(2*i+a, k) = d.H[a*len(d.G)+n] * s
		}
		*m.at(k, k) = d.H[n*len(d.G)+n]*s*s + d.G[n]*s*(1-s)
	}
}

// mix makes m (1−ρ) m + ρ b.
func (m *moving) mix(b *moving, rho float64) {
	q, n, r := 1-rho, len(m.g), len(m.g)-2
	for i, v := range m.h {
		m.h[i] = q*v + rho*b.h[i]
	}
	// ρ on its logit: ρ' = ρq, ρ″ = ρq(q − ρ).
	for i := range n {
		if i != r {
			*m.at(i, r) = rho * q * (b.g[i] - m.g[i])
		}
	}
	*m.at(r, r) = rho * q * (q - rho) * (b.f - m.f)
	for i, v := range m.g {
		m.g[i] = q*v + rho*b.g[i]
	}
	m.g[r] = rho * q * (b.f - m.f)
	m.f = q*m.f + rho*b.f
}

// come sets out to the chance to have come from site i to site j by days, and
// returns its complement; order 0 gives that alone.
func (w *way) come(i, j int, days float64, order int, out *moving) (late float64) {
	late = w.arrivals(i, j, 0, days, order, out)
	if w.resting {
		rested := w.arrivals(i, j, w.lost, days, order, &w.other)
		late = (1-w.rest)*late + w.rest*rested
		if order >= 1 {
			out.mix(&w.other, w.rest)
		}
	}
	return late
}

func (w *way) arrivals(i, j int, lost, days float64, order int, out *moving) (late float64) {
	first, path := w.stretches(i, j, lost)
	if len(path) > 1 {
		late = path.Arrivals(days, order, &w.path)
		if order >= 1 {
			out.joined(&w.path, first, path[0].Km, lost)
		}
		return late
	}
	if order < 1 {
		return path[0].Tail(days)
	}
	p, late := path[0].Arrivals(days)
	out.plain(p, first, &path[0], lost)
	return late
}

// logDensity sets out to the log-density of a time from site i to site j.
func (w *way) logDensity(i, j int, days float64, order int, out *moving) {
	w.logOf(i, j, order, out, func(p passtime.Path) passtime.Derivatives { return p[0].LogDensityDerivatives(days) },
		func(p passtime.Path) { p.LogDensity(days, order, &w.path) })
}

// logShare sets out to the logarithm of the chance to have come from site i to
// site j by days.
func (w *way) logShare(i, j int, days float64, order int, out *moving) {
	w.logOf(i, j, order, out, func(p passtime.Path) passtime.Derivatives { return p[0].LogCDFDerivatives(days) },
		func(p passtime.Path) { p.LogCDF(days, order, &w.path) })
}

// logOf sets out to the logarithm of which single, and for several laws
// several, gives that of one kind of fish.
func (w *way) logOf(i, j, order int, out *moving, single func(passtime.Path) passtime.Derivatives, several func(passtime.Path)) {
	one := func(lost float64, out *moving) {
		first, path := w.stretches(i, j, lost)
		if len(path) > 1 {
			several(path)
			out.joined(&w.path, first, path[0].Km, lost)
			return
		}
		out.plain(single(path), first, &path[0], lost)
	}
	one(0, out)
	if !w.resting {
		return
	}
	b := &w.other
	one(w.lost, b)
	// Both are taken relative to the larger.
	top := max(out.f, b.f)
	out.exponential(top)
	b.exponential(top)
	out.mix(b, w.rest)
	out.logarithm()
	out.f += top
}

// exponential makes m exp(m − top).
func (m *moving) exponential(top float64) {
	e, n := math.Exp(m.f-top), len(m.g)
	for i, v := range m.g {
		for j := range i + 1 {
			m.h[j*n+i] = e * (m.h[j*n+i] + v*m.g[j])
		}
	}
	for i, v := range m.g {
		m.g[i] = e * v
	}
	m.f = e
}

// logarithm makes m log m.
func (m *moving) logarithm() {
	f, n := m.f, len(m.g)
	for i, v := range m.g {
		for j := range i + 1 {
			m.h[j*n+i] = m.h[j*n+i]/f - v*m.g[j]/(f*f)
		}
	}
	for i, v := range m.g {
		m.g[i] = v / f
	}
	m.f = math.Log(f)
}
