package likelihood

import "math"

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
	v := s.slots
	for b := start; b < c.layout.river; b++ {
		hb := w * c.h[b]
		for n, zn := range z {
			s.g[n*v+b] += hb * zn
			if order < 2 {
				continue
			}
			for m := 0; m <= n; m++ {
				t := hb * zn * z[m]
				row := s.m[pair(n, m)*v*v:]
				for a := start; a < b; a++ {
					row[a*v+b] += t * (c.u[a] - c.h[a])
				}
				row[b*v+b] += t * (c.probs[b].V - c.h[b])
			}
		}
	}
}
