package likelihood

import "math"

// Wait is a fish last sighted (or released) at Site, first there Days before
// the day the data end, and not seen since. With S, q and F the chance to have
// come by then, it is never seen with probability
//
//	χ = 1 − Σ_j S_i…S_{j−1} q_{i+1}…q_{j−1} (1 − q_j) F_ij,  j > i
type Wait struct {
	Class  int
	Z      []float64
	Site   int
	Days   float64 // ≥ 0
	Weight float64
	Fresh  bool // see [TravelTime]
}

// waiting is what one wait needs: for site j > i, the sites a fish can come to.
type waiting struct {
	chi    float64
	arrive []float64 // site: S…q…, comes there alive and unseen since i
	late   []float64 // site: 1 − F
	f      []moving  // site: F
	// below[k] = Σ over j ≥ k of A_j F_j, A_j being the chance to be next seen
	// at j; without second derivatives.
	below []moving
	// For each river slot from the survival of reach i on, in order:
	slots []int
	u, v  []float64 // logarithmic derivative of S or q, and the link's V
	g     []float64 // ∂χ/∂η; at the end by the movement slots
	gm    []float64 // ∂²χ by η and the movement slots

	first, second []float64 // scratch of the log-likelihood's derivatives
	beyond        moving    // of past
	way           way       // of the fish it is about; see enter
}

func newWaiting(l *Layout) *waiting {
	w := &waiting{arrive: make([]float64, l.sites), late: make([]float64, l.sites),
		f: make([]moving, l.sites), below: make([]moving, l.sites+1), way: newWay(l), beyond: newMoving(len(l.moves))}
	for k := range w.below {
		if w.below[k] = newMoving(len(l.moves)); k < l.sites {
			w.f[k] = newMoving(len(l.moves))
		}
	}
	return w
}

// enter takes the passage law of fish of class g with numbers z.
func (w *waiting) enter(d *Design, x []float64, g int, z []float64) {
	w.way.set(d, x, g, z, true)
}

// set follows a wait along the river, of which c holds the probabilities; order
// 0 leaves derivatives out. Its fish have been entered.
func (w *waiting) set(c *chain, l *Layout, t *Wait, order int) {
	last := l.sites - 1
	i := t.Site
	w.way.resting = t.Fresh && l.Resting
	w.chi = c.chi[i]
	reach := 1.0
	for j := i + 1; j <= last; j++ {
		reach *= c.probs[l.survival[j-1]].P
		w.arrive[j] = reach
		w.late[j] = w.way.come(i, j, t.Days, order, &w.f[j])
		w.chi += reach * (1 - c.miss[j]) * w.late[j]
		reach *= c.miss[j]
	}
	if order < 1 {
		return
	}
	for j := last; j > i; j-- {
		a := w.arrive[j] * (1 - c.miss[j])
		b, sum := &w.below[j+1], &w.below[j]
		sum.f = b.f + a*(1-w.late[j])
		for m, v := range b.g {
			sum.g[m] = v + a*w.f[j].g[m]
		}
	}
	w.slots, w.u, w.v, w.g, w.gm = w.slots[:0], w.u[:0], w.v[:0], w.g[:0], w.gm[:0]
	add := func(slot int, u, link, sign float64, part *moving) {
		w.slots, w.u, w.v = append(w.slots, slot), append(w.u, u), append(w.v, link)
		w.g = append(w.g, sign*u*part.f)
		for _, v := range part.g {
			w.gm = append(w.gm, sign*u*v)
		}
	}
	for k := i; k < last; k++ {
		p := &c.probs[l.survival[k]]
		add(l.survival[k], p.U, p.V, -1, &w.below[k+1])
		past := w.past(c, k+1)
		from, to := l.SiteRows(k + 1)
		for r := from; r < to; r++ {
			p := &c.probs[l.detect[r]]
			add(l.detect[r], p.W, p.V, 1, past)
		}
	}
	for _, v := range w.below[i+1].g {
		w.g = append(w.g, -v)
	}
}

// past is the chance to have passed site k unseen by the end and not to have
// been seen farther down since; overwritten by the next call.
func (w *waiting) past(c *chain, k int) *moving {
	a := w.arrive[k] * c.miss[k]
	b, out := &w.below[k+1], &w.beyond
	out.f = a*(1-w.late[k]) - b.f
	for m := range out.g {
		out.g[m] = a*w.f[k].g[m] - b.g[m]
	}
	return out
}

// wait adds the log-likelihood of t. As in the chain without times, χ is
// linear in each survival and each q: with G_b = ∂χ/∂η_b,
// ∂²χ/∂η_a∂η_b = u_a G_b for a before b, and G_a V_a for a itself. c holds the
// probabilities of its fish.
func (s *moments) wait(c *chain, w *waiting, l *Layout, t *Wait, order int) {
	if t.Site == l.sites-1 {
		return
	}
	w.set(c, l, t, order)
	s.f += t.Weight * math.Log(w.chi)
	if order < 1 {
		return
	}
	n := len(w.slots)
	move := len(l.moves)
	all := n + move
	slots := append(w.slots, l.movement()...)
	w.first = zeroed(w.first, all)
	first := w.first
	for a := range first {
		first[a] = w.g[a] / w.chi
	}
	if order >= 2 {
		w.second = zeroed(w.second, all*all)
		second := w.second
		for a := range n {
			row := second[a*all : (a+1)*all]
			row[a] = w.g[a] * w.v[a]
			for b := a + 1; b < n; b++ {
				row[b] = w.u[a] * w.g[b]
			}
			copy(row[n:], w.gm[a*move:(a+1)*move])
		}
		for j := t.Site + 1; j < l.sites; j++ {
			a := w.arrive[j] * (1 - c.miss[j])
			for p := range move {
				for q := p; q < move; q++ {
					second[(n+p)*all+n+q] -= a * w.f[j].h[p*move+q]
				}
			}
		}
		for a := range all {
			for b := a; b < all; b++ {
				second[a*all+b] = second[a*all+b]/w.chi - first[a]*first[b]
			}
		}
	}
	s.pairwise(slots, first, w.second, t.Z, t.Weight, order)
}
