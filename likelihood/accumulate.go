package likelihood

// moments are the sums over fish of one class from which gradient and Hessian
// follow for any design: with η_a = Σ_n z_n B[n,a], the derivative by
// coefficients needs only Σ z_n ∂/∂η_a and Σ z_n z_m ∂²/∂η_a∂η_b.
type moments struct {
	f     float64
	slots int
	pairs int
	g     []float64 // [n][a]
	m     []float64 // [pair(n,m)][a][b], a ≤ b
}

func newMoments(d *Design) *moments {
	v, n := d.Layout.Slots(), d.Numbers
	return &moments{slots: v, pairs: n * (n + 1) / 2, g: make([]float64, n*v), m: make([]float64, n*(n+1)/2*v*v)}
}

func (s *moments) clear(order int) {
	s.f = 0
	if order >= 1 {
		clear(s.g)
	}
	if order >= 2 {
		clear(s.m)
	}
}

// pair numbers the unordered pair (n, m).
func pair(n, m int) int {
	if n < m {
		n, m = m, n
	}
	return n*(n+1)/2 + m
}

// fold adds the moments of class g to p.
func (s *moments) fold(d *Design, g, order int, p *Point) {
	p.F += s.f
	if order < 1 {
		return
	}
	v, cols := s.slots, d.Columns
	for a, es := range d.Slots[g] {
		if d.Links[g][a].Kind == Fixed {
			continue
		}
		for _, e := range es {
			p.G[e.Column] += e.Value * s.g[e.Number*v+a]
		}
		if order < 2 {
			continue
		}
		for b := a; b < v; b++ {
			if d.Links[g][b].Kind == Fixed {
				continue
			}
			for _, e := range es {
				for _, f := range d.Slots[g][b] {
					w := e.Value * f.Value * s.m[(pair(e.Number, f.Number)*v+a)*v+b]
					p.H[e.Column*cols+f.Column] += w
					if a != b {
						p.H[f.Column*cols+e.Column] += w
					}
				}
			}
		}
	}
}
