package likelihood

// Passing gives, for fish of one kind at a time, the chance to survive to a site
// and to have come there by a time. It is for one goroutine at a time.
type Passing struct {
	design *Design
	x      []float64
	way    way
	chain  *chain
}

// NewPassing is for fish under design d with coefficients x.
func NewPassing(d *Design, x []float64) *Passing {
	return &Passing{design: d, x: x, way: newWay(d.Layout), chain: newChain(d.Layout)}
}

// Enter takes fish of class g with numbers z (z[0] = 1); fresh: newly released.
func (p *Passing) Enter(g int, z []float64, fresh bool) {
	p.way.set(p.design, p.x, g, z, fresh)
	p.chain.set(p.design, p.x, g, z)
}

// Survived is S_i … S_{k−1}.
func (p *Passing) Survived(i, k int) float64 {
	s := 1.0
	for r := i; r < k; r++ {
		s *= p.chain.probs[p.design.Layout.survival[r]].P
	}
	return s
}

// By is F_ik, the share of the fish let go at site i that, were none to die, would
// have come to site k by days.
func (p *Passing) By(i, k int, days float64) float64 {
	if days <= 0 {
		return 0
	}
	return 1 - p.way.come(i, k, days, 0, nil)
}

// NextSeen is, for each of the fish, the probability to be next seen at every site
// by the end of the data, while rows worked: of [Wait], 1 − χ by sites.
func NextSeen(d *Design, x []float64, fish []Wait) [][]float64 {
	l := d.Layout
	c, out := newChain(l), make([][]float64, len(fish))
	for i := range out {
		out[i] = make([]float64, l.sites)
	}
	if !l.Windowed() {
		w := newWaiting(l)
		for i := range fish {
			t := &fish[i]
			c.set(d, x, t.Class, t.Z)
			w.enter(d, x, t.Class, t.Z)
			w.set(c, l, t, 0)
			for j := t.Site + 1; j < l.sites; j++ {
				out[i][j] = w.next[j] * (1 - w.late[j])
			}
		}
		return out
	}
	way, class := newWay(l), -1
	w := newSweep(l, &way)
	w.first, w.last = starts(&Data{Waits: fish})
	for i := range fish {
		t := &fish[i]
		if t.Class != class || d.Differs(t.Class) {
			class = t.Class
			c.set(d, x, t.Class, t.Z)
			w.enter(c, d, x, t.Class, t.Z, 0)
		}
		w.next(t, out[i])
	}
	return out
}
