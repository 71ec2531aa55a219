package likelihood

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

func newMoments(d *Design) *moments {
	v, n := d.Layout.Slots(), d.Numbers
	return &moments{slots: v, pairs: n * (n + 1) / 2, g: make([]float64, n*v), m: make([]float64, n*(n+1)/2*v*v), t: make([]float64, v)}
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
		if order < 2 || s.flat(a) {
			continue
		}
		for b := a; b < v; b++ {
			if d.Links[g][b].Kind == Fixed {
				continue
			}
			for _, e := range es {
				for _, f := range d.Slots[g][b] {
					w := e.Value * f.Value * s.m[(pair(e.Number, f.Number)*v+a)*v+b]
					if w == 0 {
						continue
					}
					p.H[e.Column*cols+f.Column] += w
					if a != b {
						p.H[f.Column*cols+e.Column] += w
					}
				}
			}
		}
	}
}

// flat tells whether slot a has no second moment with itself or a later one.
func (s *moments) flat(a int) bool {
	for n := range s.pairs {
		row := s.m[(n*s.slots+a)*s.slots:]
		for _, v := range row[a:s.slots] {
			if v != 0 {
				return false
			}
		}
	}
	return true
}

// unit adds the log-likelihood of u to s. c holds the chain of its fish.
func (s *moments) unit(c *chain, u *Unit, order int) {
	l := c.layout
	v := s.slots
	one := func(a int, weight, first, second, log float64) {
		if weight == 0 {
			return
		}
		s.f += weight * log
		if order < 1 {
			return
		}
		for n, zn := range u.Z {
			s.g[n*v+a] += weight * zn * first
			if order >= 2 {
				for m := 0; m <= n; m++ {
					s.m[(pair(n, m)*v+a)*v+a] += weight * zn * u.Z[m] * second
				}
			}
		}
	}
	for k, w := range u.Alive {
		p := &c.probs[l.survival[k]]
		one(l.survival[k], w, p.U, p.U*(p.V-p.U), math.Log(p.P))
	}
	for b, w := range u.Seen {
		p := &c.probs[l.detect[b]]
		one(l.detect[b], w, p.U, p.U*(p.V-p.U), math.Log(p.P))
	}
	for b, w := range u.Missed {
		p := &c.probs[l.detect[b]]
		one(l.detect[b], w, p.W, p.W*(p.V-p.W), math.Log(p.Q))
	}
	for i, w := range u.Never {
		if w == 0 || i == l.sites-1 {
			continue
		}
		s.f += w * math.Log(c.chi[i])
		if order >= 1 {
			c.derive(i)
			s.never(c, l.survival[i], u.Z, w, order)
		}
	}
}

// never adds w times the derivatives of log χ, from slot start on.
func (s *moments) never(c *chain, start int, z []float64, w float64, order int) {
	v, end := s.slots, c.layout.river
	for n, zn := range z {
		for b := start; b < end; b++ {
			s.g[n*v+b] += w * c.h[b] * zn
		}
		if order < 2 {
			continue
		}
		for m := 0; m <= n; m++ {
			for b := start; b < end; b++ {
				s.t[b] = w * c.h[b] * zn * z[m]
			}
			for a := start; a < end; a++ {
				row := s.m[(pair(n, m)*v+a)*v:]
				row[a] += s.t[a] * (c.probs[a].V - c.h[a])
				floats.AddScaled(row[a+1:end], c.u[a]-c.h[a], s.t[a+1:end])
			}
		}
	}
}
