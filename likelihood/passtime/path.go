package passtime

import "math"

// Path is stretches of water one after another, each with its own law. The
// days over all of them have as Laplace transform the product of the
// stretches' (Tweedie 1957),
//
//	exp K(z),   K = Σ d/σ² (v − √(v² + 2σ²z)),
//
// of which density and share are had by inversion: ∫ exp(zt + K) dz/2πi and
// the same over z, along a contour through the saddle of the integrand that
// bends to the left (see [contour]). The trapezoidal rule converges
// exponentially there (Trefethen & Weideman 2014, SIAM Review 56:385–458). Share
// and tail are good to 1e-11 each, density and derivatives likewise, as far as
// exponents of the size of dv/σ² leave digits.
type Path []Law

// Derived is a number with its derivatives by log v and log σ of each stretch
// in turn, and last by log d of the first: 2·len(path) + 1.
type Derived struct {
	Value float64   // the function itself
	G     []float64 // gradient
	H     []float64 // square, its upper half used
	k     []exponent
	by    []complex128 // ∂K by each parameter at one z
}

// exponent is a stretch's part of K and its derivatives by log v (a) and log σ
// (b); that by log d is K itself.
type exponent struct{ k, a, b, aa, ab, bb complex128 }

func (d *Derived) reset(stretches, order int) {
	n := 2*stretches + 1
	if cap(d.by) < n {
		d.by, d.k = make([]complex128, n), make([]exponent, stretches)
		d.G, d.H = make([]float64, n), make([]float64, n*n)
	}
	d.by, d.k = d.by[:n], d.k[:stretches]
	d.G, d.H = d.G[:n], d.H[:n*n]
	if order >= 1 {
		clear(d.G)
		clear(d.H)
	}
	d.Value = 0
}

// Valid tells whether there is a stretch and all laws are valid.
func (p Path) Valid() bool {
	for _, l := range p {
		if !l.Valid() {
			return false
		}
	}
	return len(p) > 0
}

// Mean is the mean number of days.
func (p Path) Mean() float64 {
	var m float64
	for _, l := range p {
		m += l.Mean()
	}
	return m
}

// Arrivals sets d to F(t), the share that has passed by day t, with its
// derivatives from order 1 on (order 2: second ones too), and returns 1 − F(t).
// The smaller of the two has all its digits.
func (p Path) Arrivals(t float64, order int, d *Derived) (tail float64) {
	if d == nil {
		d = &Derived{}
	}
	d.reset(len(p), order)
	switch {
	case !p.Valid() || math.IsNaN(t):
		d.Value = math.NaN()
		return math.NaN()
	case t <= 0:
		return 1
	case math.IsInf(t, 1):
		d.Value = 1
		return 0
	}
	c := p.share(t)
	scale := math.Exp(p.invert(t, c, order, d))
	for i := range d.G {
		d.G[i] *= scale
	}
	for i := range d.H {
		d.H[i] *= scale
	}
	d.Value *= scale
	if c.at < 0 {
		// Left of the pole at 0, whose residue is 1.
		tail = min(1, max(0, -d.Value))
		d.Value = 1 - tail
		return tail
	}
	d.Value = min(1, max(0, d.Value))
	return 1 - d.Value
}

// LogDensity sets d to log f(t), t > 0, with its derivatives.
func (p Path) LogDensity(t float64, order int, d *Derived) {
	if d != nil && p.logOutside(t, order, d) {
		scale := p.invert(t, p.density(t), order, d)
		d.logarithm(scale)
	}
}

// LogCDF sets d to log F(t), t > 0, with its derivatives.
func (p Path) LogCDF(t float64, order int, d *Derived) {
	if d == nil || !p.logOutside(t, order, d) {
		return
	}
	if c := p.share(t); c.at > 0 {
		d.logarithm(p.invert(t, c, order, d))
		return
	}
	p.Arrivals(t, order, d)
	d.logarithm(0)
}

// logOutside tells whether there is a density at t, else d is set.
func (p Path) logOutside(t float64, order int, d *Derived) (inside bool) {
	d.reset(len(p), order)
	switch {
	case !p.Valid() || math.IsNaN(t):
		d.Value = math.NaN()
	case t <= 0 || math.IsInf(t, 1):
		d.Value = math.Inf(-1)
	default:
		return true
	}
	return false
}

// logarithm makes d, in units of exp(logUnit), its logarithm.
func (d *Derived) logarithm(logUnit float64) {
	n := len(d.G)
	for i := range d.G {
		d.G[i] /= d.Value
	}
	for i := range d.G {
		for j := i; j < n; j++ {
			d.H[i*n+j] = d.H[i*n+j]/d.Value - d.G[i]*d.G[j]
		}
	}
	d.Value = logUnit + math.Log(d.Value)
}

// contour is z = at + width (i sinh x − bend (cosh x − 1)).
type contour struct {
	at, width float64
	pole      bool // the integrand is divided by z
}

const (
	bend = 0.6
	// xStep of 0.1 leaves an error below 1e-12 on all paths of the tests.
	xStep = 0.1
	// negligible: where the integrand has fallen by so much, relative to its
	// value on the axis, the rest of the contour adds nothing.
	negligible = 1e-17
)

// grid is sinh x and cosh x at the steps, farther than any integrand goes.
var grid = func() (g [120][2]float64) {
	for i := range g {
		g[i][0], g[i][1] = math.Sinh(xStep*float64(i)), math.Cosh(xStep*float64(i))
	}
	return g
}()

// branch is the nearest singularity: K has one at −min v²/2σ².
func (p Path) branch() float64 {
	b := math.Inf(1)
	for _, l := range p {
		b = min(b, 0.5*(l.Drift/l.Spread)*(l.Drift/l.Spread))
	}
	return b
}

// slopes are Σ d/r = −K' and K″ at a real z.
func (p Path) slopes(z float64) (first, second float64) {
	for _, l := range p {
		r := math.Sqrt(l.Drift*l.Drift + 2*l.Spread*l.Spread*z)
		first += l.Km / r
		second += l.Km * l.Spread * l.Spread / (r * r * r)
	}
	return first, second
}

// solve finds where f, falling over low..high, is 0, to a tenth of the saddle's
// width and of the distance to the nearer end: a contour need not go through the
// very saddle. Newton's method within a bracket; slope is f'.
func solve(low, high float64, f func(z float64) (value, slope float64)) float64 {
	from, to := low, high
	z := math.NaN()
	for range 60 {
		if !(z > low && z < high) {
			if math.IsInf(high, 1) {
				z = from + 4*max(low-from, 1e-3)
			} else {
				z = from + math.Sqrt(max(low-from, 1e-6*(high-from))*(high-from))
			}
		}
		v, slope := f(z)
		if v > 0 {
			low = z
		} else {
			high = z
		}
		step := -v / slope
		if math.Abs(step) < 0.1*min(1/math.Sqrt(-slope), z-from, to-z) {
			return z
		}
		z += step
	}
	return z
}

// density is the contour for the density: through the saddle of exp(zt + K),
// but not nearer than 1/t to the singularity.
func (p Path) density(t float64) contour {
	b := p.branch()
	low := -b + 1/t
	c := contour{at: low}
	if v, _ := p.slopes(low); v > t {
		c.at = p.saddle(low, t, 0)
	}
	_, second := p.slopes(c.at)
	c.width = min(max(1/t, 1/math.Sqrt(second)), c.at+b)
	return c
}

// saddle is where Σ d/r + pole/z = t for z > low.
func (p Path) saddle(low, t, pole float64) float64 {
	return solve(low, math.Inf(1), func(z float64) (float64, float64) {
		v, s := p.slopes(z)
		if pole != 0 {
			v, s = v+1/z, s+1/(z*z)
		}
		return v - t, -s
	})
}

// share is the contour for the share that has passed: right of the pole at 0,
// or left of it where that is the smaller tail and the singularity leaves room.
func (p Path) share(t float64) contour {
	b := p.branch()
	c := contour{pole: true}
	if mean, _ := p.slopes(0); t > mean && b*t > 2 {
		low, high := -b+1/t, -1/t
		c.at = solve(low, high, func(z float64) (float64, float64) {
			v, s := p.slopes(z)
			return v + 1/z - t, -(s + 1/(z*z))
		})
		c.at = min(max(c.at, low), high)
	} else {
		c.at = p.saddle(0, t, 1)
	}
	_, second := p.slopes(c.at)
	c.width = min(max(1/t, 1/math.Sqrt(second+1/(c.at*c.at))), c.at+b, math.Abs(c.at))
	return c
}

// invert sets d to the integral along c and its derivatives, in units of the
// exponential of what it returns.
func (p Path) invert(t float64, c contour, order int, d *Derived) (logUnit float64) {
	var most float64
	// Where the law is near the normal one the integrand falls by itself, and
	// a bend would only make it turn.
	bend := bend * min(1, 10/(c.width*t))
	for i, x := range grid {
		sinh, cosh := x[0], x[1]
		z := complex(c.at-c.width*bend*(cosh-1), c.width*sinh)
		dz := complex(-c.width*bend*sinh, c.width*cosh)
		var sum complex128
		for k := range p {
			d.k[k].set(&p[k], z, order)
			sum += d.k[k].k
		}
		if i == 0 {
			logUnit = t*c.at + real(sum)
		}
		size := math.Exp(t*real(z) + real(sum) - logUnit)
		sin, cos := math.Sincos(t*imag(z) + imag(sum))
		w := complex(size*cos, size*sin) * dz * complex(xStep/math.Pi, 0)
		if c.pole {
			w *= reciprocal(z)
		}
		if i == 0 {
			w /= 2
		}
		d.Value += imag(w)
		if order >= 1 {
			d.add(w, order)
		}
		if most = max(most, size*cosh); size*cosh < negligible*most {
			break
		}
	}
	return logUnit
}

// add adds w times the derivatives of exp K.
func (d *Derived) add(w complex128, order int) {
	n := len(d.G)
	for k := range d.k {
		d.by[2*k], d.by[2*k+1] = d.k[k].a, d.k[k].b
	}
	d.by[n-1] = d.k[0].k
	for i, u := range d.by {
		wu := w * u
		d.G[i] += imag(wu)
		if order < 2 {
			continue
		}
		row := d.H[i*n : (i+1)*n]
		for j := i; j < n; j++ {
			v := d.by[j]
			row[j] += real(wu)*imag(v) + imag(wu)*real(v)
		}
	}
	if order < 2 {
		return
	}
	for k := range d.k {
		e, a := &d.k[k], 2*k
		d.H[a*n+a] += imag(w * e.aa)
		d.H[a*n+a+1] += imag(w * e.ab)
		d.H[(a+1)*n+a+1] += imag(w * e.bb)
	}
	e := &d.k[0]
	d.H[n-1] += imag(w * e.a)
	d.H[n+n-1] += imag(w * e.b)
	d.H[n*n-1] += imag(w * e.k)
}

// set takes the part of l at z. With r = √(v² + 2σ²z), nothing is a difference
// of near numbers: v − r = −2σ²z/(v + r).
func (e *exponent) set(l *Law, z complex128, order int) {
	v, s2 := l.Drift, l.Spread*l.Spread
	r := root(complex(v*v, 0) + complex(2*s2, 0)*z)
	vr := complex(v, 0) + r
	q := reciprocal(r * vr)
	dz := complex(2*l.Km, 0) * z
	e.k = -dz * q * r
	if order < 1 {
		return
	}
	e.a = complex(v, 0) * dz * q
	s2z := complex(2*s2, 0) * z
	e.b = s2z * dz * q * q * r
	if order < 2 {
		return
	}
	u := q * vr
	u3 := u * u * u
	vv := complex(v*v, 0) * dz * u3
	e.aa = e.a - vv
	e.ab = vv - 2*e.a
	e.bb = s2z*dz*u3 - 2*e.b
}

// root is the square root with positive real part; the contour keeps clear of
// the negative axis.
func root(z complex128) complex128 {
	x, y := real(z), imag(z)
	h := math.Sqrt(x*x + y*y)
	if x >= 0 {
		r := math.Sqrt((h + x) / 2)
		return complex(r, y/(2*r))
	}
	i := math.Sqrt((h - x) / 2)
	return complex(math.Abs(y)/(2*i), math.Copysign(i, y))
}

func reciprocal(z complex128) complex128 {
	x, y := real(z), imag(z)
	m := 1 / (x*x + y*y)
	return complex(x*m, -y*m)
}
