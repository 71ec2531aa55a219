package likelihood

// Expected is what released[i] fish of class g with numbers z, let go at each
// site i, are expected to show: the counts of [Unit], with each release
// followed to the next sighting only. Minus the Hessian of the log-likelihood
// at these counts is the expected information.
func Expected(d *Design, x []float64, g int, z, released []float64) Unit {
	l := d.Layout
	c := newChain(l)
	c.set(d, x, g, z)
	u := NewUnit(l, g, z)
	for i, r := range released {
		if r == 0 || i == l.sites-1 {
			continue
		}
		u.Never[i] += r * c.chi[i]
		reach := r // alive at site k and unseen since i
		for k := i; k < l.sites-1; k++ {
			s := c.probs[l.survival[k]].P
			u.Alive[k] += reach * s * c.again[k+1]
			reach *= s
			later := 0.0 // seen below k+1, given alive there and unseen there
			if k+1 < l.sites-1 {
				later = c.probs[l.survival[k+1]].P * c.again[k+2]
			}
			from, to := l.SiteRows(k + 1)
			for b := from; b < to; b++ {
				pr := &c.probs[l.detect[b]]
				u.Seen[b] += reach * pr.P
				u.Missed[b] += reach * (pr.Q - c.miss[k+1] + c.miss[k+1]*later)
			}
			reach *= c.miss[k+1]
		}
	}
	return u
}
