package likelihood

// chain is the probabilities of one fish along the river, and from them χ.
type chain struct {
	layout *Layout
	probs  []Prob    // slot
	miss   []float64 // site: Π q over its rows
	chi    []float64 // site: never seen again after being there
	again  []float64 // site: seen there or later, given alive there: P + q(1−χ)
	h      []float64 // slot: ∂ log χ / ∂η
	u      []float64 // slot: what a later derivative gains from this slot, d log(S or q)/dη
}

func newChain(l *Layout) *chain {
	v, n := l.Slots(), l.Sites()
	return &chain{l, make([]Prob, v), make([]float64, n), make([]float64, n), make([]float64, n),
		make([]float64, v), make([]float64, v)}
}

// set takes the probabilities of class g with numbers z at x.
func (c *chain) set(d *Design, x []float64, g int, z []float64) {
	for a := range c.layout.river {
		c.probs[a] = d.prob(x, g, a, z)
	}
	c.run(0)
}

// run follows χ upstream from the last site to site i.
func (c *chain) run(i int) {
	l := c.layout
	last := l.sites - 1
	c.chi[last] = 1
	for k := last; k > i; k-- {
		c.miss[k] = 1
		from, to := l.SiteRows(k)
		seen := 0.0
		for b := from; b < to; b++ {
			pr := &c.probs[l.detect[b]]
			seen += c.miss[k] * pr.P
			c.miss[k] *= pr.Q
		}
		c.again[k] = seen
		if k < last {
			c.again[k] += c.miss[k] * c.probs[l.survival[k]].P * c.again[k+1]
		}
		s := &c.probs[l.survival[k-1]]
		c.chi[k-1] = s.Q + s.P*c.miss[k]*c.chi[k]
	}
}

// derive sets h, for the slots from the survival of reach i on, to
// ∂ log χ_i / ∂η, and u to what enters the second derivatives: χ is linear
// in each survival and each q, so for a before b
//
//	∂²log χ / ∂η_a∂η_b = h_b (u_a − h_a),  ∂²log χ / ∂η_a² = h_a (V_a − h_a).
func (c *chain) derive(i int) {
	l := c.layout
	reach := 1 / c.chi[i]
	for k := i; k < l.sites-1; k++ {
		a := l.survival[k]
		s := &c.probs[a]
		reach *= s.P
		c.h[a] = -reach * s.U * c.again[k+1]
		c.u[a] = s.U
		past := reach * c.miss[k+1] * c.chi[k+1]
		from, to := l.SiteRows(k + 1)
		for b := from; b < to; b++ {
			w := c.probs[l.detect[b]].W
			c.h[l.detect[b]] = past * w
			c.u[l.detect[b]] = w
		}
		reach *= c.miss[k+1]
	}
}

// Redetection gives the probability to be next seen at each site below.
type Redetection struct {
	design *Design
	chain  *chain
	next   [][]float64
}

// NewRedetection is for fish under design d. It is for one goroutine at a time.
func NewRedetection(d *Design) *Redetection {
	if d.shaped() != nil {
		return &Redetection{}
	}
	a := &Redetection{d, newChain(d.Layout), make([][]float64, d.Layout.Sites())}
	for i := range a.next {
		a.next[i] = make([]float64, d.Layout.Sites())
	}
	return a
}

// At is, for sites i < k, the probability that a fish of class g with numbers z,
// alive at i, is next seen at k: S_i q_{i+1} … S_{k−1} p_k; 0 elsewhere. The
// slices are overwritten by the next call.
func (a *Redetection) At(x []float64, g int, z []float64) [][]float64 {
	if a.design == nil || !a.design.evaluates(x) || a.design.has(g, z) != nil {
		return nil
	}
	c, l := a.chain, a.design.Layout
	c.set(a.design, x, g, z)
	for i := range l.sites {
		reach := 1.0
		for k := i + 1; k < l.sites; k++ {
			reach *= c.probs[l.survival[k-1]].P
			a.next[i][k] = reach * (1 - c.miss[k])
			reach *= c.miss[k]
		}
	}
	return a.next
}
