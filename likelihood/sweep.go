package likelihood

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/integrate/quad"

	"example.org/unseen/likelihood/passtime"
)

// Where sites are not always at full work, it matters when fish pass them. With
// q(m) the chance to pass a site unseen in state m (a set of its rows at work,
// 0 being all), 1 − A(t) = q(0) + Σ_m (q(m) − q(0)) 1[t in m], and what a fish
// does is a sum over courses (see [course]) of two factors: one of survival and
// detection, and one of movement, the chance (for a trip the density) to take
// the course. The latter are integrals over the times at the stops, taken by the
// Gauss–Legendre rule on short panels of absolute time, the same for all fish.

const (
	// panelNodes on panels of panelWidth times the width of the narrowest law on
	// its steep side (see place): the log-likelihood of a fish is off by 3e-10
	// at most in the tests, by 1e-12 on panels two thirds as wide.
	panelNodes = 10
	panelWidth = 3
	// flank: a density of exp(−flank) of its top is a millionth.
	flank = 14
	// beyondAll: where the logarithm of a density is by so much below its
	// top, nothing is left.
	beyondAll = 35
	// mostNodes at one site.
	mostNodes = 20000
)

// sweep is the part of movement in the likelihood of one kind of fish.
type sweep struct {
	layout *Layout
	ways   courses
	way    *way
	order  int
	class  int     // entered; −1: none, or fish of it differ
	first  float64 // no fish starts earlier
	last   float64 // nor later
	nodes  [][]node
	tables [][]moving // course → by node of the site it starts from
	steps  map[[2]int][][]moving
	panels map[[3]int]*panel // from site, to site, number
	places [][]place
	one    moving // scratch
	f      [][]moving
	sum    moving
	// Of the class entered:
	pass    [][]moving // site, state → passed unseen
	seen    []moving   // site → seen at full work
	alive   []moving   // reach → survived
	z       []float64  // numbers
	fates   map[[2]int][]fate
	blends  []blend // by two sites; see trips and waits
	laid    laid
	product moving
	rivers  []*moving // scratch, of which so many are taken; see river
	taken   int
	factors []moving // scratch: of movement, by course
	all     moving   // scratch: of all slots
	slots   []int    // all
}

type node struct {
	at, weight float64
	state      int
}

// place is where the density from a site lies on the days after a fish was
// there: none before low or after high; width is how wide it is on its steep
// side, where a millionth of the top is left.
type place struct {
	low, high, width float64
	mean, phi        float64 // phi is (mean/SD)²
}

// widthAt is how wide the density is around u days: that of the inverse
// Gaussian law, which in x = log(u/mean) falls like exp(−φ (cosh x − 1)).
func (p *place) widthAt(u float64) float64 {
	return u / math.Sqrt(p.phi*(u/p.mean+p.mean/u)/2)
}

func newSweep(l *Layout, w *way) *sweep {
	n := len(l.moves)
	s := &sweep{layout: l, way: w, ways: courses{layout: l, known: map[[2]int][]*course{}}, one: newMoving(n), sum: newMoving(n),
		product: newMoving(l.river), class: -1, first: math.Inf(1), last: math.Inf(-1),
		fates: map[[2]int][]fate{}, blends: make([]blend, l.sites*l.sites), all: newMoving(l.Slots())}
	for a := range l.Slots() {
		s.slots = append(s.slots, a)
	}
	for j := 1; j < l.sites; j++ {
		for i := range j {
			s.ways.from(i, j)
		}
	}
	s.nodes, s.f = make([][]node, l.sites), make([][]moving, l.sites)
	s.tables = make([][]moving, len(s.ways.all))
	for k := 1; k < l.sites; k++ {
		s.alive = append(s.alive, newMoving(l.river))
		s.pass = append(s.pass, make([]moving, len(l.work[k].states)))
		s.seen = append(s.seen, newMoving(l.river))
		for m := range s.pass[k-1] {
			s.pass[k-1][m] = newMoving(l.river)
		}
	}
	return s
}

// placeOf is where the law of the days from site i to site j lies.
func (s *sweep) placeOf(i, j int) place {
	one := func(lost float64) place {
		_, path := s.way.stretches(i, j, lost)
		var variance float64
		for k := range path {
			variance += path[k].SD() * path[k].SD()
		}
		mean := path.Mean()
		phi := mean * mean / variance // d v/σ² of a single law
		reach := math.Exp(math.Acosh(1 + beyondAll/phi))
		p := place{low: mean / reach, high: mean * reach, mean: mean, phi: phi}
		p.width = p.widthAt(mean / math.Exp(math.Acosh(1+flank/phi)))
		return p
	}
	p := one(0)
	if s.way.resting {
		r := one(s.way.lost)
		p.low, p.high, p.width = min(p.low, r.low), max(p.high, r.high), min(p.width, r.width)
	}
	return p
}

// laid is what the nodes and tables hang on.
type laid struct {
	laws       passtime.Path
	rest, lost float64
	order      int
}

// lay lays the nodes of the fish entered, if those before moved otherwise.
func (s *sweep) lay(order int) {
	l, w := s.layout, s.way
	s.order = order
	if s.laid.order == order && s.laid.rest == w.rest && s.laid.lost == w.lost && slices.EqualFunc(s.laid.laws, w.laws, func(a, b passtime.Law) bool { return a.Drift == b.Drift && a.Spread == b.Spread }) {
		return
	}
	s.laid = laid{slices.Clone(w.laws), w.rest, w.lost, order}
	s.steps, s.panels = map[[2]int][][]moving{}, map[[3]int]*panel{}
	s.places = make([][]place, l.sites)
	for i := range s.places {
		s.places[i] = make([]place, l.sites)
		for j := i + 1; j < l.sites; j++ {
			// A rest is only of the newly released, who may be let go anywhere.
			s.places[i][j] = s.placeOf(i, j)
		}
	}
	for c := range s.tables {
		s.tables[c] = nil
	}
	for k := 1; k < l.sites-1; k++ {
		s.nodes[k] = s.nodes[k][:0]
		if !l.Idle(k) {
			continue
		}
		width, high := math.Inf(1), 0.0
		for i := range k {
			width, high = min(width, s.places[i][k].width), max(high, s.places[i][k].high)
		}
		for j := k + 1; j < l.sites; j++ {
			width = min(width, s.places[k][j].width)
		}
		for _, p := range l.work[k].spells {
			from, to := max(p.from, s.first), min(p.to, s.last+high, l.end)
			if !(from < to) {
				continue
			}
			// When all is over but the slowest fish the density widens.
			calm := min(to, max(from, s.last+s.places[0][k].mean, l.lastEdge()))
			s.nodes[k] = appendPanels(s.nodes[k], from, calm, panelWidth*width, p.state)
			for calm < to {
				w := math.Inf(1)
				for i := range k {
					w = min(w, s.places[i][k].widthAt(calm-s.last))
				}
				next := min(to, calm+w)
				s.nodes[k] = appendPanels(s.nodes[k], calm, next, w, p.state)
				calm = next
			}
		}
	}
}

var legendre = func() (x, w [panelNodes]float64) {
	quad.Legendre{}.FixedLocations(x[:], w[:], -1, 1)
	if x[0] > 0 { // the rule is symmetric; from left to right
		slices.Reverse(x[:])
	}
	return x, w
}

var legendreX, legendreW = legendre()

// appendPanels lays panels no wider than width.
func appendPanels(out []node, from, to, width float64, state int) []node {
	panels := min(math.Ceil((to-from)/width), mostNodes/panelNodes)
	half := (to - from) / (2 * panels)
	for p := range int(panels) {
		middle := from + half*float64(2*p+1)
		for i, x := range legendreX {
			out = append(out, node{middle + half*x, half * legendreW[i], state})
		}
	}
	return out
}

// near are the nodes of site k that a fish at site i on day at can come to.
func (s *sweep) near(i, k int, at float64) (from, to int) {
	n, p := s.nodes[k], &s.places[i][k]
	from = sort.Search(len(n), func(q int) bool { return n[q].at >= at+p.low })
	to = from + sort.Search(len(n)-from, func(q int) bool { return n[from+q].at > at+p.high })
	return from, to
}

// come sets out to the chance to come from site i, on day at, to site j in
// state m (0: at any time) by the end.
func (s *sweep) come(i int, at float64, j, m int, out *moving) {
	l := s.layout
	if m == 0 {
		out.clear()
		out.f = 1 - s.by(i, j, l.end-at, out)
		return
	}
	s.sum.clear()
	for _, p := range l.work[j].spells {
		to := min(p.to, l.end)
		if p.state != m || !(to > max(at, p.from)) {
			continue
		}
		late := s.by(i, j, to-at, &s.one)
		for k, v := range s.one.g {
			s.sum.g[k] += v
		}
		for k, v := range s.one.h {
			s.sum.h[k] += v
		}
		before := 1.0
		if p.from > at {
			before = s.by(i, j, p.from-at, &s.one)
			for k, v := range s.one.g {
				s.sum.g[k] -= v
			}
			for k, v := range s.one.h {
				s.sum.h[k] -= v
			}
		}
		s.sum.f += before - late
	}
	out.set(&s.sum)
}

// by sets the derivatives of out to those of the share come by days, and returns
// its complement.
func (s *sweep) by(i, j int, days float64, out *moving) (late float64) {
	if days <= 0 {
		out.clear()
		return 1
	}
	if math.IsInf(days, 1) {
		out.clear()
		return 0
	}
	return s.way.come(i, j, days, s.order, out)
}

// density sets out to that of the days from site i to site j, over exp(top).
func (s *sweep) density(i, j int, days, top float64, out *moving) {
	if first, path := s.way.stretches(i, j, 0); len(path) == 1 && !s.way.resting {
		out.densityOf(&path[0], first, days, top, s.order)
		return
	}
	if s.way.resting {
		s.way.logDensity(i, j, days, s.order, out)
	} else {
		s.interpolate(i, j, days, out)
	}
	out.exponential(top)
}

// panel is the logarithm of a density at the knots of a stretch of log days.
type panel struct {
	knots chebyshev
	logs  []moving
}

// interpolate sets out to the logarithm of the density over several laws, from knots
// on panels of which none spans more than a factor of knotRatio: each costs an
// inversion, and all fish alike take the same.
func (s *sweep) interpolate(i, j int, days float64, out *moving) {
	p := &s.places[i][j]
	low, high := math.Log(p.low), math.Log(p.high)
	count := math.Ceil((high - low) / math.Log(knotRatio))
	u := math.Log(days)
	at := math.Floor((u - low) / (high - low) * count)
	if !(at >= 0 && at < count) {
		s.way.logDensity(i, j, days, s.order, out)
		return
	}
	key := [3]int{i, j, int(at)}
	x, ok := s.panels[key]
	if !ok {
		width := (high - low) / count
		x = &panel{chebyshevOn(low+at*width, low+(at+1)*width), newMovings(knotCount, len(out.g))}
		for m := range x.logs {
			s.way.logDensity(i, j, math.Exp(x.knots.at[m]), s.order, &x.logs[m])
		}
		s.panels[key] = x
	}
	out.clear()
	for m, share := range x.knots.shares(u) {
		out.addScaled(share, &x.logs[m])
	}
}

// densityOf sets m to the density of law i after days, over exp(top), as (37) in
// docs/methods.md has it.
func (m *moving) densityOf(law *passtime.Law, i int, days, top float64, order int) {
	v, w := law.Drift, 1/(law.Spread*law.Spread)
	r := law.Km - v*days
	e := r * r * w / days
	f := law.Km / (law.Spread * days * math.Sqrt(2*math.Pi*days)) * math.Exp(-e/2-top)
	m.f = f
	if order < 1 {
		return
	}
	if len(m.g) > 2 {
		clear(m.g)
		clear(m.h)
	}
	a, b := v*r*w, e-1 // of the logarithm, by log v and log σ
	k := 2 * i
	m.g[k], m.g[k+1] = f*a, f*b
	row := m.h[k*len(m.g):]
	row[k], row[k+1] = f*(a-v*v*days*w+a*a), f*(-2*a+a*b)
	m.h[(k+1)*len(m.g)+k+1] = f * (-2*e + b*b)
}

// certain tells whether fish that survive take the course by the end for sure.
func (s *sweep) certain(c *course) bool {
	return c.rest == nil && c.state == 0 && math.IsInf(s.layout.end, 1)
}

// chance sets out to the chance of course c from site i on day at.
func (s *sweep) chance(i int, at float64, c *course, out *moving) {
	if c.rest == nil || s.certain(c.rest) {
		s.come(i, at, c.site, c.state, out)
		return
	}
	out.clear()
	t := s.table(c.site, c.rest)
	from, to := s.near(i, c.site, at)
	for q := from; q < to; q++ {
		if n := &s.nodes[c.site][q]; n.state == c.state {
			s.density(i, c.site, n.at-at, 0, &s.one)
			out.addProduct(n.weight, &s.one, &t[q], s.order)
		}
	}
}

// table is the chance of course c from each node of site k, from which no fish
// rests.
func (s *sweep) table(k int, c *course) []moving {
	if s.tables[c.id] != nil {
		return s.tables[c.id]
	}
	resting := s.way.resting
	s.way.resting = false
	t := newMovings(len(s.nodes[k]), len(s.layout.moves))
	for q := range t {
		s.chance(k, s.nodes[k][q].at, c, &t[q])
	}
	s.way.resting = resting
	s.tables[c.id] = t
	return t
}

func newMovings(count, n int) []moving {
	flat := make([]float64, count*(n+n*n))
	out := make([]moving, count)
	for i := range out {
		at := flat[i*(n+n*n):]
		out[i] = moving{g: at[:n:n], h: at[n : n+n*n : n+n*n]}
	}
	return out
}

// step are the densities from the nodes of site k to those of site j.
func (s *sweep) step(k, j int) [][]moving {
	if m, ok := s.steps[[2]int{k, j}]; ok {
		return m
	}
	resting := s.way.resting
	s.way.resting = false
	out := make([][]moving, len(s.nodes[k]))
	for q, n := range s.nodes[k] {
		from, to := s.near(k, j, n.at)
		out[q] = newMovings(to-from, len(s.layout.moves))
		for r := range out[q] {
			s.density(k, j, s.nodes[j][from+r].at-n.at, 0, &out[q][r])
		}
	}
	s.way.resting = resting
	s.steps[[2]int{k, j}] = out
	return out
}

// arrive sets out to the density, over exp(top), that a fish at site i on day
// at takes course c and comes to its last site on day end.
func (s *sweep) arrive(i int, at float64, c *course, end, top float64, out *moving) {
	out.clear()
	k := c.site
	if c.rest.rest == nil && !s.way.resting {
		if first, path := s.way.stretches(i, c.rest.site, 0); len(path) == 1 {
			s.midway(i, at, c, end, top, &path[0], first, out)
			return
		}
		if s.bridge(i, at, c, end, top, out) {
			return
		}
	}
	resting := s.way.resting
	s.way.resting = false
	from, to := s.near(i, k, at)
	v := s.onward(k, c.rest, end, c.last().site, from, to)
	s.way.resting = resting
	for q := from; q < to && s.nodes[k][q].at < end; q++ {
		if n := &s.nodes[k][q]; n.state == c.state && v[q].f > 0 {
			s.density(i, k, n.at-at, top, &s.one)
			out.addProduct(n.weight, &s.one, &v[q], s.order)
		}
	}
}

// midway does what arrive does for one stop where the law, number first, is one.
func (s *sweep) midway(i int, at float64, c *course, end, top float64, law *passtime.Law, first int, out *moving) {
	l, days := s.layout, end-at
	share := &s.one
	share.clear()
	for _, p := range l.work[c.site].spells {
		if p.state == c.state && p.to > at && p.from < end {
			d := passtime.Midway(law.Spread, l.Distance(i, c.site), l.Distance(c.site, c.rest.site), days, p.from-at, p.to-at)
			share.f += d.Value
			b := 2*first + 1
			share.g[b] += law.Spread * d.S
			*share.at(b, b) += law.Spread * (d.S + law.Spread*d.SS)
		}
	}
	if share.f > 0 {
		s.sum.densityOf(law, first, days, top, s.order)
		out.addProduct(1, &s.sum, share, s.order)
	}
}

// bridge does what arrive does for one stop between two stretches of a law each,
// with panels as narrow as the two densities ask for where they stand; false: the
// stretches have several.
func (s *sweep) bridge(i int, at float64, c *course, end, top float64, out *moving) bool {
	k, j := c.site, c.rest.site
	a, one := s.way.stretches(i, k, 0)
	if len(one) > 1 {
		return false
	}
	above := one[0]
	b, one := s.way.stretches(k, j, 0)
	if len(one) > 1 {
		return false
	}
	below := one[0]
	p, q := &s.places[i][k], &s.places[k][j]
	const sd = 2 // of the narrower density, to a panel
	for _, spell := range s.layout.work[k].spells {
		from, to := max(spell.from, at+p.low), min(spell.to, end-q.low)
		least := (to - from) / mostNodes * panelNodes
		for x := from; spell.state == c.state && x < to; {
			h := sd * min(p.widthAt(x-at), q.widthAt(end-x))
			for range 3 { // the one below is narrowest where the panel ends
				if rest := end - x - h; rest > q.low {
					h = min(h, sd*q.widthAt(rest))
				} else {
					h /= 2
				}
			}
			if !(h > least) {
				h = least
			}
			h = min(h, to-x)
			for n, z := range legendreX {
				y := x + h/2*(1+z)
				s.one.densityOf(&above, a, y-at, top, s.order)
				s.sum.densityOf(&below, b, end-y, 0, s.order)
				out.addProduct(h/2*legendreW[n], &s.one, &s.sum, s.order)
			}
			x += h
		}
	}
	return true
}

// onward are the densities to come by course c from the nodes of site k from the
// from-th on to site j on day end.
func (s *sweep) onward(k int, c *course, end float64, j, from, to int) []moving {
	if need := len(s.nodes[k]); len(s.f[k]) < need {
		s.f[k] = newMovings(need, len(s.layout.moves))
	}
	out := s.f[k]
	first, path := s.way.stretches(k, j, 0)
	direct := c.rest != nil && c.rest.rest == nil && len(path) == 1
	var then []moving
	var step [][]moving
	if c.rest != nil && !direct {
		then, step = s.onward(c.site, c.rest, end, j, 0, len(s.nodes[c.site])), s.step(k, c.site)
	}
	p := &s.places[k][j]
	for q := from; q < to; q++ {
		n := &s.nodes[k][q]
		days := end - n.at
		out[q].clear()
		switch {
		case days < p.low || days > p.high:
		case c.rest == nil:
			s.density(k, j, days, 0, &out[q])
		case direct:
			s.midway(k, n.at, c, end, 0, &path[0], first, &out[q])
		default:
			first, _ := s.near(k, c.site, n.at)
			for r := range step[q] {
				if m := &s.nodes[c.site][first+r]; m.state == c.state && then[first+r].f > 0 {
					out[q].addProduct(m.weight, &step[q][r], &then[first+r], s.order)
				}
			}
		}
	}
	return out
}

// set makes m a copy of b.
func (m *moving) set(b *moving) {
	m.f = b.f
	copy(m.g, b.g)
	copy(m.h, b.h)
}

// addProduct adds w a b.
func (m *moving) addProduct(w float64, a, b *moving, order int) {
	m.f += w * a.f * b.f
	if order < 1 {
		return
	}
	n := len(m.g)
	for i := range n {
		m.g[i] += w * (a.g[i]*b.f + a.f*b.g[i])
	}
	if order < 2 {
		return
	}
	for i := range n {
		row, ra, rb := m.h[i*n:(i+1)*n], a.h[i*n:(i+1)*n], b.h[i*n:(i+1)*n]
		wa, wb := w*a.g[i], w*b.g[i]
		for j := i; j < n; j++ {
			row[j] += w*(ra[j]*b.f+a.f*rb[j]) + wa*b.g[j] + wb*a.g[j]
		}
	}
}

// addScaled adds w b.
func (m *moving) addScaled(w float64, b *moving) {
	m.f += w * b.f
	for i, v := range b.g {
		m.g[i] += w * v
	}
	for i, v := range b.h {
		m.h[i] += w * v
	}
}

// fate is what survival and detection do for fish that take a course from one
// site to another: next seen there, or past it unseen.
type fate struct {
	course       *course
	seen, unseen *moving
}

// blend is, of fish alike in survival and detection, what the logarithm of Σ_c a_c
// b_c needs: a_c is what these do for course c, by the river's slots, and b_c the
// factor of movement, of each fish its own. So the derivatives by the river's
// slots need sums over fish alone.
type blend struct {
	ready   bool
	courses []*course // nil: b is 1
	river   []*moving // a
	used    bool      // there are sums
	// With r the weight over Σ a b, q = r / Σ a b and p = Σ a ∂b by the movement
	// slots:
	first []float64 // c: Σ r b
	cross []float64 // c ≤ e: Σ q b_c b_e
	// mixed is, by course and movement slot, Σ (r ∂b − q b p); gone and square
	// are the derivatives by the movement slots.
	mixed, gone, square []float64
	pull                []float64 // scratch: p
}
