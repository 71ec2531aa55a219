package likelihood

import (
	"math"
	"math/bits"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/floats"
)

// Eval implements [Objective]. F is NaN where x has not one coefficient for each
// column, or NewCJS did not make o.
func (o *CJS) Eval(x []float64, order int, p *Point) {
	if p == nil {
		return
	}
	if !o.made || len(x) != o.Design.Columns {
		p.F = math.NaN()
		return
	}
	n := o.Design.Columns
	workers := min(runtime.GOMAXPROCS(0), len(o.blocks))
	for len(o.free) < max(1, workers) {
		o.free = append(o.free, newWorker(o))
	}
	switch {
	case len(o.blocks) == 1:
		o.free[0].block(o, 0, x, order, p)
		return
	case workers <= 1:
		for i := range o.blocks {
			o.free[0].block(o, i, x, order, &o.sums[i])
		}
	default:
		var next atomic.Int64
		var wg sync.WaitGroup
		for _, w := range o.free[:workers] {
			wg.Go(func() {
				for {
					i := int(next.Add(1)) - 1
					if i >= len(o.blocks) {
						return
					}
					w.block(o, i, x, order, &o.sums[i])
				}
			})
		}
		wg.Wait()
	}
	p.reset(n, order)
	for i := range o.blocks {
		s := &o.sums[i]
		p.F += s.F
		if order >= 1 {
			for j, v := range s.G {
				p.G[j] += v
			}
		}
		if order >= 2 {
			p.addH(s)
		}
	}
}

// chunk is how many fish are taken through the formulas together: the arrays
// of a chunk stay in the processor's cache, and sums over a chunk are short.
const chunk = 128

// newWorker has room for fish in chunks where o has history groups.
func newWorker(o *CJS) *worker {
	d, l := o.Design, o.Design.Layout
	v, n := l.Slots(), d.Numbers
	size := 0
	if len(o.Data.HistoryGroups) > 0 {
		size = chunk
	}
	rows := func(k int) [][]float64 {
		flat := make([]float64, k*size)
		out := make([][]float64, k)
		for i := range out {
			out[i] = flat[i*size : (i+1)*size : (i+1)*size]
		}
		return out
	}
	w := &worker{moments: newMoments(d), chain: newChain(l), waiting: newWaiting(l), eta: make([]float64, v*n),
		numbers: make([][]int, v), p: make([]probs, v),
		again: rows(l.sites), miss: rows(l.sites), chi: rows(l.sites), h: rows(v), ua: rows(v),
		wz: rows(n), wzz: rows(n * (n + 1) / 2), hz: rows(n * (n + 1) / 2),
		like: make([]float64, size), tmp: make([]float64, size), z: make([]float64, n)}
	if l.Windowed() {
		way := newWay(l)
		w.sweep = newSweep(l, &way)
	}
	for a := range w.p {
		r := rows(5)
		w.p[a] = probs{r[0], r[1], r[2], r[3], r[4]}
	}
	return w
}

// block evaluates block i of o into sum.
func (w *worker) block(o *CJS, i int, x []float64, order int, sum *Point) {
	d := o.Design
	sum.reset(d.Columns, order)
	class := -1
	if w.sweep != nil {
		w.sweep.class = -1
	}
	flush := func() {
		if w.sweep != nil {
			w.sweep.fold(w.moments, order)
		}
		if class >= 0 {
			w.moments.fold(d, class, order, sum)
		}
		w.moments.clear(order)
	}
	enter := func(g int) {
		if g != class {
			flush()
			class = g
		}
	}
	for _, pc := range o.blocks[i] {
		switch pc.what {
		case unitPiece:
			for j := pc.from; j < pc.to; j++ {
				u := &o.Data.Units[j]
				enter(u.Class)
				w.chain.set(d, x, u.Class, u.Z)
				w.moments.unit(w.chain, u, order)
			}
		case travelTimePiece:
			for j := pc.from; j < pc.to; j++ {
				t := &o.travelTimes[j]
				enter(t.class)
				w.moments.travelTime(d, x, t, order)
			}
		case alonePiece:
			for j := pc.from; j < pc.to; j++ {
				t := &o.alone[j]
				if d.Layout.crosses(t.From, t.To) {
					w.enterIdle(o, x, t.Class, t.Z, order, enter)
					w.moments.idleTrip(w.sweep, t, order)
					continue
				}
				enter(t.Class)
				w.moments.alone(&w.waiting.way, d, x, t, order)
			}
		case withinPiece:
			for j := pc.from; j < pc.to; j++ {
				t := &o.within[j]
				enter(t.Class)
				if w.sweep != nil {
					w.sweep.class = -1
					w.moments.givenWork(w.sweep, d, x, t, order)
					continue
				}
				w.moments.given(&w.waiting.way, d, x, t, order)
			}
		case waitPiece:
			for j := pc.from; j < pc.to; j++ {
				t := &o.waits[j]
				if w.sweep != nil {
					w.enterIdle(o, x, t.Class, t.Z, order, enter)
					w.moments.idleWait(w.sweep, t, order)
					continue
				}
				// Fish alike have their probabilities in common.
				if same := t.Class == class && j > pc.from; !same || !w.alike {
					if j > pc.from {
						w.waiting.fold(w.moments, d.Layout, o.waits[j-1].Z, order)
					}
					enter(t.Class)
					w.chain.set(d, x, t.Class, t.Z)
					w.waiting.enter(d, x, t.Class, t.Z)
					w.alike = !d.Differs(t.Class)
				}
				w.moments.wait(w.chain, w.waiting, d.Layout, t, order)
			}
			w.waiting.fold(w.moments, d.Layout, o.waits[pc.to-1].Z, order)
		default:
			s := &o.Data.HistoryGroups[pc.what]
			enter(s.Class)
			w.enter(d, x, s.Class)
			for at := pc.from; at < pc.to; at += chunk {
				w.historyGroup(d, s, at, min(at+chunk, pc.to), order)
			}
		}
	}
	flush()
}

// enterIdle takes fish of class g with numbers z into the sweep, if those before
// were not alike; enter is the block's.
func (w *worker) enterIdle(o *CJS, x []float64, g int, z []float64, order int, enter func(g int)) {
	enter(g)
	if w.sweep.class == g {
		return
	}
	w.sweep.fold(w.moments, order)
	w.sweep.first, w.sweep.last = o.first, o.last
	w.sweep.take(w.chain, o.Design, x, g, z, order)
}

// enter prepares the slots of class g: what the predictor of each needs, and
// the probabilities of those that do not vary.
func (w *worker) enter(d *Design, x []float64, g int) {
	n := d.Numbers
	clear(w.eta)
	for a, es := range d.Slots[g] {
		w.numbers[a] = append(w.numbers[a][:0], 0)
		fixed := d.Links[g][a].Kind == Fixed
		for _, e := range es {
			w.eta[a*n+e.Number] += e.Value * x[e.Column]
			if e.Number == 0 || fixed {
				continue
			}
			known := false
			for _, m := range w.numbers[a] {
				known = known || m == e.Number
			}
			if !known {
				w.numbers[a] = append(w.numbers[a], e.Number)
			}
		}
		if len(w.numbers[a]) == 1 {
			pr := d.Links[g][a].At(w.eta[a*n])
			p := &w.p[a]
			for f := range chunk {
				p.set(f, pr)
			}
		}
	}
}

// historyGroup adds fish from..to of s, at most a chunk.
func (w *worker) historyGroup(d *Design, s *HistoryGroup, from, to, order int) {
	l := d.Layout
	n := to - from
	w.weigh(d, s, from, to, order)
	first := l.river
	if s.Entry < l.sites-1 {
		first = l.survival[s.Entry]
	}
	for a := first; a < l.river; a++ {
		if len(w.numbers[a]) > 1 {
			w.probabilities(d, s, a, from, to)
		}
	}
	like := w.like[:n]
	for f := range like {
		like[f] = 1
	}
	for k := s.Entry; k < s.Last; k++ {
		w.known(l.survival[k], like, true, order)
		if s.RowsCounted {
			continue
		}
		r0, r1 := l.SiteRows(k + 1)
		for b := r0; b < r1; b++ {
			if s.Idle>>uint(b)&1 == 0 || s.Seen>>uint(b)&1 == 1 {
				w.known(l.detect[b], like, s.Seen>>uint(b)&1 == 1, order)
			}
		}
	}
	if s.Open && s.Last < l.sites-1 {
		w.open(l, s.Last, n)
		for f, c := range w.chi[s.Last][:n] {
			like[f] *= c
		}
		if order >= 1 {
			w.derive(l, s.Last, n, order)
		}
	}
	var sum float64
	for f, v := range like {
		if !(v > 1e-280) {
			v = w.logOne(d, s, from+f)
		} else {
			v = math.Log(v)
		}
		sum += v * w.wz[0][f]
	}
	w.moments.f += sum
}

// weigh sets the weights and their products with the numbers.
func (w *worker) weigh(d *Design, s *HistoryGroup, from, to, order int) {
	one := w.wz[0][:to-from]
	if s.Weight == nil {
		for f := range one {
			one[f] = 1
		}
	} else {
		copy(one, s.Weight[from:to])
	}
	if order < 1 {
		return
	}
	for i := 1; i < d.Numbers; i++ {
		floats.MulTo(w.wz[i][:len(one)], one, s.Z[i-1][from:to])
	}
	if order < 2 {
		return
	}
	for i := range d.Numbers {
		for j := 0; j <= i; j++ {
			if j == 0 {
				copy(w.wzz[pair(i, 0)], w.wz[i])
			} else {
				floats.MulTo(w.wzz[pair(i, j)][:len(one)], w.wz[i][:len(one)], s.Z[j-1][from:to])
			}
		}
	}
}

// probabilities fills slot a, which varies between the fish.
func (w *worker) probabilities(d *Design, s *HistoryGroup, a, from, to int) {
	eta := w.tmp[:to-from]
	base := w.eta[a*d.Numbers:]
	for f := range eta {
		eta[f] = base[0]
	}
	for _, m := range w.numbers[a][1:] {
		floats.AddScaled(eta, base[m], s.Z[m-1][from:to])
	}
	link := d.Links[s.Class][a]
	p := &w.p[a]
	pp, pq, pu, pw, pv := p.p[:len(eta)], p.q[:len(eta)], p.u[:len(eta)], p.w[:len(eta)], p.v[:len(eta)]
	if link.Kind == Logit {
		for f, e := range eta {
			x, y := Expit(e)
			pp[f], pq[f], pu[f], pw[f], pv[f] = x, y, y, -x, y-x
		}
	} else {
		for f, e := range eta {
			p.set(f, link.At(e))
		}
	}
	if !d.Parts(s.Class, a) {
		return
	}
	for f := range eta {
		w.numbersOf(s, from+f)
		if r, at := d.atLimit(s.Class, a, w.z); at {
			p.set(f, r)
		}
	}
}

// set makes r the probability of fish f of the chunk.
func (p *probs) set(f int, r Prob) {
	p.p[f], p.q[f], p.u[f], p.w[f], p.v[f] = r.P, r.Q, r.U, r.W, r.V
}

// numbersOf sets z to the numbers of fish f of s.
func (w *worker) numbersOf(s *HistoryGroup, f int) {
	w.z[0] = 1
	for i := range s.Z {
		w.z[i+1] = s.Z[i][f]
	}
}

// known takes a probability that was observed: survived or detected (yes), or
// passed unseen. It stands alone in the log-likelihood.
func (w *worker) known(a int, like []float64, yes bool, order int) {
	n := len(like)
	p := &w.p[a]
	val, first := p.p[:n], p.u[:n]
	if !yes {
		val, first = p.q[:n], p.w[:n]
	}
	floats.Mul(like, val)
	if order < 1 {
		return
	}
	s := w.moments
	for _, i := range w.numbers[a] {
		s.g[i*s.slots+a] += floats.Dot(first, w.wz[i][:n])
	}
	if order < 2 {
		return
	}
	second := w.tmp[:n]
	for f := range second {
		second[f] = first[f] * (p.v[f] - first[f])
	}
	for x, i := range w.numbers[a] {
		for _, j := range w.numbers[a][:x+1] {
			s.m[(pair(i, j)*s.slots+a)*s.slots+a] += floats.Dot(second, w.wzz[pair(i, j)][:n])
		}
	}
}

// open follows χ from the last site up to site i.
func (w *worker) open(l *Layout, i, n int) {
	last := l.sites - 1
	for f := range n {
		w.chi[last][f] = 1
	}
	for k := last; k > i; k-- {
		miss, again := w.miss[k][:n], w.again[k][:n]
		r0, r1 := l.SiteRows(k)
		first := &w.p[l.detect[r0]]
		copy(again, first.p)
		copy(miss, first.q)
		for b := r0 + 1; b < r1; b++ {
			p := &w.p[l.detect[b]]
			for f := range miss {
				again[f] += miss[f] * p.p[f]
				miss[f] *= p.q[f]
			}
		}
		if k < last {
			down, sp := w.again[k+1][:n], w.p[l.survival[k]].p[:n]
			for f := range again {
				again[f] += miss[f] * sp[f] * down[f]
			}
		}
		s := &w.p[l.survival[k-1]]
		sp, sq := s.p[:n], s.q[:n]
		chi, up := w.chi[k][:n], w.chi[k-1][:n]
		for f := range up {
			up[f] = sq[f] + sp[f]*miss[f]*chi[f]
		}
	}
}

// derive adds the derivatives of log χ_i; see chain.derive for the formula.
func (w *worker) derive(l *Layout, i, n, order int) {
	s := w.moments
	v := s.slots
	start := l.survival[i]
	reach := w.tmp[:n]
	for f, c := range w.chi[i][:n] {
		reach[f] = 1 / c
	}
	for k := i; k < l.sites-1; k++ {
		a := l.survival[k]
		p := &w.p[a]
		h, ua, sp, su, again := w.h[a][:n], w.ua[a][:n], p.p[:n], p.u[:n], w.again[k+1][:n]
		for f := range h {
			reach[f] *= sp[f]
			g := -reach[f] * su[f] * again[f]
			h[f] = g
			ua[f] = su[f] - g
		}
		miss, chi := w.miss[k+1][:n], w.chi[k+1][:n]
		for f := range reach {
			reach[f] *= miss[f]
		}
		r0, r1 := l.SiteRows(k + 1)
		for b := r0; b < r1; b++ {
			d := l.detect[b]
			pw, h, ua := w.p[d].w[:n], w.h[d][:n], w.ua[d][:n]
			for f := range h {
				g := reach[f] * chi[f] * pw[f]
				h[f] = g
				ua[f] = pw[f] - g
			}
		}
	}
	for b := start; b < l.river; b++ {
		h := w.h[b][:n]
		for _, j := range w.numbers[b] {
			s.g[j*v+b] += floats.Dot(h, w.wz[j][:n])
		}
		if order >= 2 {
			w.second(start, b, n)
		}
	}
}

// second adds the second derivatives of log χ by slot b and those before it.
func (w *worker) second(start, b, n int) {
	s := w.moments
	v := s.slots
	h := w.h[b][:n]
	// Pairs of numbers that b takes part in with any slot at all.
	var have uint64
	for a := start; a <= b; a++ {
		for _, i := range w.numbers[a] {
			for _, j := range w.numbers[b] {
				if k := pair(i, j); k < 64 {
					have |= 1 << uint(k)
				}
			}
		}
	}
	for m := have; m != 0; m &= m - 1 {
		k := bits.TrailingZeros64(m)
		floats.MulTo(w.hz[k][:n], h, w.wzz[k][:n])
	}
	add := func(a int, left []float64) {
		var done uint64
		for _, i := range w.numbers[a] {
			for _, j := range w.numbers[b] {
				k := pair(i, j)
				if done>>uint(k)&1 == 1 {
					continue
				}
				done |= 1 << uint(k)
				s.m[(k*v+a)*v+b] += floats.Dot(left, w.hz[k][:n])
			}
		}
	}
	for a := start; a < b; a++ {
		add(a, w.ua[a][:n])
	}
	diag := w.tmp[:n]
	for f, x := range w.p[b].v[:n] {
		diag[f] = x - h[f]
	}
	add(b, diag)
}

// logOne is the log-likelihood of one fish by a sum of logarithms, for
// products too small for a float64.
func (w *worker) logOne(d *Design, s *HistoryGroup, f int) float64 {
	l := d.Layout
	w.numbersOf(s, f)
	var sum float64
	c := w.chain
	for a := range l.river {
		if d.Parts(s.Class, a) {
			if p, at := d.atLimit(s.Class, a, w.z); at {
				c.probs[a] = p
				continue
			}
		}
		var eta float64
		for m, zm := range w.z {
			eta += zm * w.eta[a*d.Numbers+m]
		}
		c.probs[a] = d.Links[s.Class][a].At(eta)
	}
	c.run(s.Entry)
	for k := s.Entry; k < s.Last; k++ {
		sum += math.Log(c.probs[l.survival[k]].P)
		if s.RowsCounted {
			continue
		}
		r0, r1 := l.SiteRows(k + 1)
		for b := r0; b < r1; b++ {
			if s.Seen>>uint(b)&1 == 1 {
				sum += math.Log(c.probs[l.detect[b]].P)
			} else if s.Idle>>uint(b)&1 == 0 {
				sum += math.Log(c.probs[l.detect[b]].Q)
			}
		}
	}
	if s.Open {
		sum += math.Log(c.chi[s.Last])
	}
	return sum
}
