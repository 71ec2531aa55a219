package likelihood

// Factor is one probability of a product: that of a slot, or its complement.
type Factor struct {
	Slot int  // index of the probability
	Miss bool // 1 − p instead of p
}

// Mean is a weighted sum over fish of one class of a product of probabilities.
type Mean struct {
	Class   int      // index of the fish's class
	Factors []Factor // multiplied
	// Z[n−1] are number n of the fish; Numbers−1 columns of N values.
	Z [][]float64
	// Weight of each fish; nil: Each for all. All are multiplied by Scale,
	// 0 meaning 1.
	Weight      []float64
	Each, Scale float64
	N           int
}

// Quantity is a number that follows from the coefficients: a sum of means, or
// one minus it. Survival of a reach, detection at a divided site, the share
// that passed are all of this form.
type Quantity struct {
	Means      []Mean // added
	Complement bool   // one minus it
}

// Eval sets p.F to the quantity at x, from order 1 on p.G and from order 2 on
// p.H to its derivatives.
func (q *Quantity) Eval(d *Design, x []float64, order int, p *Point) {
	p.reset(d.Columns, order)
	s := new(moments) // the value alone needs no room for derivatives
	if order >= 1 {
		s = newMoments(d)
	}
	probs := make([]Prob, 0, 8)
	first := make([]float64, 0, 8)
	z := make([]float64, d.Numbers)
	z[0] = 1
	for i := range q.Means {
		m := &q.Means[i]
		s.clear(order)
		for f := range m.N {
			for n := range m.Z {
				z[n+1] = m.Z[n][f]
			}
			w := m.Each
			if m.Weight != nil {
				w = m.Weight[f]
			}
			if m.Scale != 0 {
				w *= m.Scale
			}
			v := w
			probs, first = probs[:0], first[:0]
			for _, c := range m.Factors {
				pr := d.Prob(x, m.Class, c.Slot, z)
				probs = append(probs, pr)
				if c.Miss {
					v *= pr.Q
					first = append(first, pr.W)
				} else {
					v *= pr.P
					first = append(first, pr.U)
				}
			}
			s.f += v
			if order < 1 || v == 0 {
				continue
			}
			s.product(m.Factors, probs, first, z, v, order)
		}
		s.fold(d, m.Class, order, p)
	}
	if q.Complement {
		p.F = 1 - p.F
		for j := range p.G {
			p.G[j] = -p.G[j]
		}
		for j := range p.H {
			p.H[j] = -p.H[j]
		}
	}
}

// product adds the derivatives of v, a product of factors: with u the
// logarithmic derivatives, v u_a u_b and v u_a V_a.
func (s *moments) product(factors []Factor, probs []Prob, first, z []float64, v float64, order int) {
	slots := s.slots
	for i, c := range factors {
		a := c.Slot
		for n, zn := range z {
			s.g[n*slots+a] += v * first[i] * zn
			if order < 2 {
				continue
			}
			for m := 0; m <= n; m++ {
				t := v * first[i] * zn * z[m]
				row := s.m[pair(n, m)*slots*slots:]
				row[a*slots+a] += t * probs[i].V
				for j := i + 1; j < len(factors); j++ {
					b := factors[j].Slot
					row[min(a, b)*slots+max(a, b)] += t * first[j]
				}
			}
		}
	}
}
