package likelihood

import "math"

// Wait is a fish last detected (or released) at Site, first there Days before
// the day the data end, and not seen since. With S, q and F the chance to have
// come by then, it is never seen with probability
//
//	χ = 1 − Σ_j A_j F_ij,  A_j = S_i…S_{j−1} q_{i+1}…q_{j−1} (1 − q_j),  j > i
type Wait struct {
	Class  int       // index of the fish's class
	Z      []float64 // numbers of the fish as in [Unit]
	Site   int       // index of the site of the last detection
	Days   float64   // ≥ 0
	Weight float64
	Fresh  bool // see [TravelTime]
	// At is the day it starts, where rows do not work all the time; then Days
	// may be infinite: the season is over.
	At float64
}

// waiting is what one wait needs: for site j > i, the sites a fish can come to.
// Its fish are alike but for the days and the site they start at; see enter.
type waiting struct {
	chi    float64
	arrive []float64 // site: S…q…, comes there alive and unseen since i
	next   []float64 // site: A
	late   []float64 // site: 1 − F
	f      []moving  // site: F
	starts []start   // by i
	pull   []float64 // scratch: Σ_j A_j ∂F_j by the movement slots
	way    way       // of the fish it is about; see enter
	// Scratch of fold:
	slots                []int
	first, second, along []float64
}

// start is what fish that start at site i have in common: the coefficients of χ
// and of its derivatives, linear in F, and the sums over fish from which the
// derivatives of Σ log χ follow.
type start struct {
	ready        bool // arrive and next are known
	used         bool // there are sums
	arrive, next []float64
	rows         []chiRow

	first []float64 // site j: Σ F_j/χ
	cross []float64 // sites j ≤ k: Σ F_j F_k/χ²
	// mixed is, by site and movement slot, Σ (∂F_j/χ + F_j ΣA∂F/χ²); gone and
	// square are first and second derivatives of Σ log χ by the movement slots.
	mixed, gone, square []float64
}

// chiRow is ∂χ/∂η = Σ_j by[j] F_j of the slot of a survival or detection. It is S
// or q of which u is the logarithmic derivative, and v the link's V.
type chiRow struct {
	slot int
	u, v float64
	by   []float64
}

func newWaiting(l *Layout) *waiting {
	n, m := l.sites, len(l.moves)
	w := &waiting{late: make([]float64, n), f: make([]moving, n), starts: make([]start, n), pull: make([]float64, m),
		along: make([]float64, n), way: newWay(l)}
	for k := range w.f {
		w.f[k] = newMoving(m)
		w.starts[k] = start{arrive: make([]float64, n), next: make([]float64, n), first: make([]float64, n), cross: make([]float64, n*n),
			mixed: make([]float64, n*m), gone: make([]float64, m), square: make([]float64, m*m)}
	}
	return w
}

// enter takes the passage law of fish of class g with numbers z. The sums over
// those before must have been folded.
func (w *waiting) enter(d *Design, x []float64, g int, z []float64) {
	w.way.set(d, x, g, z, true)
	for i := range w.starts {
		w.starts[i].ready = false
	}
}

// set follows a wait along the river, of which c holds the probabilities; order
// 0 leaves derivatives out. Its fish have been entered.
func (w *waiting) set(c *chain, l *Layout, t *Wait, order int) {
	s := &w.starts[t.Site]
	if !s.ready {
		s.lay(c, l, t.Site)
	}
	w.way.resting = t.Fresh && l.Resting
	w.arrive, w.next = s.arrive, s.next
	w.chi = c.chi[t.Site]
	for j := t.Site + 1; j < l.sites; j++ {
		w.late[j] = w.way.come(t.Site, j, t.Days, order, &w.f[j])
		w.chi += s.next[j] * w.late[j]
	}
}

// lay sets the coefficients of fish that start at site i.
func (s *start) lay(c *chain, l *Layout, i int) {
	s.ready, s.rows = true, s.rows[:0]
	reach := 1.0
	for j := i + 1; j < l.sites; j++ {
		reach *= c.probs[l.survival[j-1]].P
		s.arrive[j], s.next[j] = reach, reach*(1-c.miss[j])
		reach *= c.miss[j]
	}
	for k := i + 1; k < l.sites; k++ {
		p := &c.probs[l.survival[k-1]]
		row := s.row(l.survival[k-1], p.U, p.V)
		for j := k; j < l.sites; j++ {
			row[j] = -p.U * s.next[j]
		}
		from, to := l.SiteRows(k)
		for r := from; r < to; r++ {
			p := &c.probs[l.detect[r]]
			s.past(c, k, p.W, s.row(l.detect[r], p.W, p.V))
		}
	}
}

// row adds a row of zeros.
func (s *start) row(slot int, u, v float64) []float64 {
	n := len(s.rows)
	if n < cap(s.rows) {
		s.rows = s.rows[:n+1]
	} else {
		s.rows = append(s.rows, chiRow{})
	}
	by := zeroed(s.rows[n].by, len(s.next))
	s.rows[n] = chiRow{slot, u, v, by}
	return by
}

// past sets by to the coefficients of F of the chance to have passed site k
// unseen by the end and not to have been seen farther down since, times u.
func (s *start) past(c *chain, k int, u float64, by []float64) {
	by[k] = u * s.arrive[k] * c.miss[k]
	for j := k + 1; j < len(by); j++ {
		by[j] = -u * s.next[j]
	}
}

// share is Σ_j by[j] F_j over sites from k on, moved its derivative by the m-th
// movement slot.
func (w *waiting) share(by []float64, k int) (sum float64) {
	for j := k; j < len(by); j++ {
		sum += by[j] * (1 - w.late[j])
	}
	return sum
}

func (w *waiting) moved(by []float64, k, m int) (sum float64) {
	for j := k; j < len(by); j++ {
		sum += by[j] * w.f[j].g[m]
	}
	return sum
}

// wait adds the log-likelihood of t; its derivatives are added by [waiting.fold]
// when those of all fish alike are in. c holds the probabilities of its fish.
func (s *moments) wait(c *chain, w *waiting, l *Layout, t *Wait, order int) {
	if t.Site == l.sites-1 {
		return
	}
	w.set(c, l, t, order)
	s.f += t.Weight * math.Log(w.chi)
	if order >= 1 {
		w.starts[t.Site].add(w, t, order)
	}
}

func (s *start) add(w *waiting, t *Wait, order int) {
	if !s.used {
		s.used = true
		for _, sum := range [][]float64{s.first, s.cross, s.mixed, s.gone, s.square} {
			clear(sum)
		}
	}
	i, n, move := t.Site+1, len(w.late), len(w.pull)
	r := t.Weight / w.chi
	for m := range w.pull {
		w.pull[m] = w.moved(s.next, i, m)
		s.gone[m] -= r * w.pull[m]
	}
	for j := i; j < n; j++ {
		s.first[j] += r * (1 - w.late[j])
	}
	if order < 2 {
		return
	}
	q := r / w.chi
	for j := i; j < n; j++ {
		f := &w.f[j]
		qf := q * (1 - w.late[j])
		for k := j; k < n; k++ {
			s.cross[j*n+k] += qf * (1 - w.late[k])
		}
		mixed := s.mixed[j*move : (j+1)*move]
		for m, g := range f.g {
			mixed[m] += r*g + qf*w.pull[m]
		}
		ra := r * s.next[j]
		for a, h := range f.h {
			s.square[a] -= ra * h
		}
	}
	for a, p := range w.pull {
		for b := a; b < move; b++ {
			s.square[a*move+b] -= q * p * w.pull[b]
		}
	}
}

// fold adds to s the derivatives of the log-likelihood of all fish since the
// last time, alike and with numbers z. As in the chain without times, χ is
// linear in each survival and each q: with G_b = ∂χ/∂η_b, ∂²χ/∂η_a∂η_b = u_a G_b
// for a before b, and G_a V_a for a itself.
func (w *waiting) fold(s *moments, l *Layout, z []float64, order int) {
	for i := range w.starts {
		if st := &w.starts[i]; st.used {
			st.used = false
			w.foldStart(s, l, i, z, order)
		}
	}
}

func (w *waiting) foldStart(s *moments, l *Layout, i int, z []float64, order int) {
	st := &w.starts[i]
	rows, move := len(st.rows), len(w.pull)
	all := rows + move
	w.slots = w.slots[:0]
	w.first = zeroed(w.first, all)
	for a := range st.rows {
		r := &st.rows[a]
		w.slots = append(w.slots, r.slot)
		for j := i + 1; j < l.sites; j++ {
			w.first[a] += r.by[j] * st.first[j]
		}
	}
	w.slots = append(w.slots, l.movement()...)
	copy(w.first[rows:], st.gone)
	if order >= 2 {
		w.second = zeroed(w.second, all*all)
		st.curve(i, w.first, w.second, w.along)
	}
	s.pairwise(w.slots, w.first, w.second, z, 1, order)
}

// curve sets second to the second derivatives, square with its upper half used.
func (s *start) curve(i int, first, second, along []float64) {
	n, rows := len(s.next), len(s.rows)
	all := len(first)
	move := all - rows
	for b := range s.rows {
		rb := &s.rows[b]
		for j := i + 1; j < n; j++ {
			along[j] = 0
			for k := i + 1; k < n; k++ {
				along[j] += s.cross[min(j, k)*n+max(j, k)] * rb.by[k]
			}
		}
		for a := range b + 1 {
			ra := &s.rows[a]
			v := ra.u * first[b]
			if a == b {
				v = ra.v * first[a]
			}
			for j := i + 1; j < n; j++ {
				v -= ra.by[j] * along[j]
			}
			second[a*all+b] = v
		}
		for m := range move {
			v := 0.0
			for j := i + 1; j < n; j++ {
				v += rb.by[j] * s.mixed[j*move+m]
			}
			second[b*all+rows+m] = v
		}
	}
	for a := range move {
		copy(second[(rows+a)*all+rows:], s.square[a*move:(a+1)*move])
	}
}
