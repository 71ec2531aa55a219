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

// ExpectedInformation is minus the expected Hessian at x of the log-likelihood
// with times, Columns × Columns: of the releases, each let go at its Site with
// Days left until the data end, every one followed to its next sighting. fixed
// counts (test passes) are added as they are. It panics in a layout where fish
// may rest: of a mixture the expectation has no closed form.
func ExpectedInformation(d *Design, x []float64, releases []Wait, fixed []Unit) []float64 {
	l := d.Layout
	if l.Resting {
		panic("likelihood: no expected information where fish may rest")
	}
	c, w := newChain(l), newWaiting(l)
	data := &Data{Units: append([]Unit(nil), fixed...)}
	var trips []tripSum
	for i := range releases {
		t := releases[i]
		if t.Site == l.sites-1 {
			continue
		}
		c.set(d, x, t.Class, t.Z)
		w.enter(d, x, t.Class, t.Z)
		w.set(c, l, &t, 1)
		v, sd := d.Prob(x, t.Class, l.Drift(), t.Z).P, d.Prob(x, t.Class, l.Spread(), t.Z).P
		u := NewUnit(l, t.Class, t.Z)
		trip := tripSum{class: t.Class, z: t.Z}
		var e float64
		for j := t.Site + 1; j < l.sites; j++ {
			// Next seen at j by the end: the product of the way, and at j the
			// rows given that one of them saw the fish.
			arrived := t.Weight * w.arrive[j] * (1 - w.late[j])
			next := arrived * (1 - c.miss[j])
			for k := t.Site; k < j; k++ {
				u.Alive[k] += next
				if k > t.Site {
					from, to := l.SiteRows(k)
					for b := from; b < to; b++ {
						u.Missed[b] += next
					}
				}
			}
			from, to := l.SiteRows(j)
			for b := from; b < to; b++ {
				p := &c.probs[l.detect[b]]
				u.Seen[b] += arrived * p.P
				u.Missed[b] += arrived * (p.Q - c.miss[j])
			}
			// Sums of the times, from the score: ∂F/∂log v and ∂F/∂log σ are
			// the means of the score over those that have come.
			a := t.Weight * w.arrive[j] * (1 - c.miss[j])
			km, f := l.Distance(t.Site, j), 1-w.late[j]
			trip.n += a * f
			trip.way += a * km * f
			trip.days += a * (km*f - w.f[j].g[0]*sd*sd/v) / v
			e += a * (w.f[j].g[1] + f)
		}
		trip.quick = e*sd*sd + 2*v*trip.way - v*v*trip.days
		trips = append(trips, trip)
		data.Units = append(data.Units, u)
		t.Weight *= w.chi
		data.Waits = append(data.Waits, t)
	}
	o := NewCJS(d, data)
	o.trips = trips
	o.blocks, o.sums = nil, nil
	o.cut()
	o.sums = make([]Point, len(o.blocks))
	var p Point
	o.Eval(x, 2, &p)
	for i := range p.H {
		p.H[i] = -p.H[i]
	}
	return p.H
}
