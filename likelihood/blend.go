package likelihood

import "math"

func (b *blend) begin() {
	b.ready, b.courses, b.river = true, b.courses[:0], b.river[:0]
}

// take takes a course.
func (b *blend) take(s *sweep, c *course, a *moving) {
	b.courses, b.river = append(b.courses, c), append(b.river, a)
	for len(s.factors) < len(b.courses) {
		s.factors = append(s.factors, newMoving(len(s.layout.moves)))
	}
}

func (b *blend) value(by []moving) (sum float64) {
	for c, a := range b.river {
		sum += a.f * by[c].f
	}
	return sum
}

// add adds fish of a weight and returns the logarithm of the blend.
func (b *blend) add(by []moving, weight float64, order int) (log float64) {
	sum := b.value(by)
	log = math.Log(sum)
	if order < 1 || math.IsInf(log, 0) || math.IsNaN(log) {
		return log
	}
	n, move := len(b.river), len(by[0].g)
	if !b.used {
		b.used = true
		b.first, b.cross, b.mixed = zeroed(b.first, n), zeroed(b.cross, n*n), zeroed(b.mixed, n*move)
		b.gone, b.square, b.pull = zeroed(b.gone, move), zeroed(b.square, move*move), zeroed(b.pull, move)
	}
	r := weight / sum
	clear(b.pull)
	for c, a := range b.river {
		b.first[c] += r * by[c].f
		for m, g := range by[c].g {
			b.pull[m] += a.f * g
		}
	}
	for m, p := range b.pull {
		b.gone[m] += r * p
	}
	if order >= 2 {
		b.curve(by, r, r/sum)
	}
	return log
}

// curve adds what the second derivatives need.
func (b *blend) curve(by []moving, r, q float64) {
	n, move := len(b.river), len(b.pull)
	for c, a := range b.river {
		f := &by[c]
		qf, ra := q*f.f, r*a.f
		for e := c; e < n; e++ {
			b.cross[c*n+e] += qf * by[e].f
		}
		mixed := b.mixed[c*move : (c+1)*move]
		for m, g := range f.g {
			mixed[m] += r*g - qf*b.pull[m]
		}
		for i, h := range f.h {
			b.square[i] += ra * h
		}
	}
	for m, p := range b.pull {
		for k := m; k < move; k++ {
			b.square[m*move+k] -= q * p * b.pull[k]
		}
	}
}

// fold adds to m the derivatives of the log-likelihood of all fish since the last
// time, which are alike.
func (s *sweep) fold(m *moments, order int) {
	for i := range s.blends {
		if b := &s.blends[i]; b.used {
			b.used = false
			b.fold(s)
			m.pairwise(s.slots, s.all.g, s.all.h, s.z, 1, order)
		}
	}
}

// fold sets s.all to the derivatives.
func (b *blend) fold(s *sweep) {
	all, n, move := &s.all, len(b.river), len(b.pull)
	all.clear()
	rows := len(all.g) - move
	for c, a := range b.river {
		for i, g := range a.g {
			all.g[i] += b.first[c] * g
			row := all.h[i*len(all.g):]
			for j := i; j < rows; j++ {
				row[j] += b.first[c] * a.h[i*rows+j]
			}
			for m, v := range b.mixed[c*move : (c+1)*move] {
				row[rows+m] += g * v
			}
		}
		for e := range n {
			b.outer(all, rows, c, e)
		}
	}
	copy(all.g[rows:], b.gone)
	for m := range move {
		copy(all.h[(rows+m)*len(all.g)+rows:], b.square[m*move:(m+1)*move])
	}
}

// outer takes away Σ q b_c b_e of the product of the gradients of two courses.
func (b *blend) outer(all *moving, rows, c, e int) {
	w, to := b.cross[min(c, e)*len(b.river)+max(c, e)], b.river[e].g
	for i, g := range b.river[c].g {
		row := all.h[i*len(all.g):]
		for j := i; j < rows; j++ {
			row[j] -= w * g * to[j]
		}
	}
}
