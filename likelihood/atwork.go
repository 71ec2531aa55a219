package likelihood

// Work is a set of a site's rows that is at work while a share of the fish pass, and
// no other row there.
type Work struct {
	Share float64 // of the passages
	Rows  uint64  // numbered rows, as bits
}

// ExpectedAtWork is minus the expected Hessian at x, Columns × Columns, of the
// log-likelihood of the releases, each followed to its next sighting, where rows do not
// work all the time ([Released.Work]). Of a fish that was seen it is known which rows
// were at work, of one that was missed not.
func ExpectedAtWork(d *Design, x []float64, releases []Released) []float64 {
	l := d.Layout
	c := newChain(l)
	out, slots := make([]float64, d.Columns*d.Columns), make([]float64, l.river*l.river)
	for i := range releases {
		r := &releases[i]
		c.set(d, x, r.Class, r.Z)
		clear(slots)
		for site, n := range r.At {
			if n > 0 && site < l.sites-1 {
				c.followAtWork(site, n, r.Work, slots)
			}
		}
		for a, entries := range d.Slots[r.Class][:l.river] {
			for b, others := range d.Slots[r.Class][:l.river] {
				v := slots[a*l.river+b]
				if v == 0 {
					continue
				}
				for _, e := range entries {
					for _, o := range others {
						out[e.Column*d.Columns+o.Column] += v * e.Value * r.Z[e.Number] * o.Value * r.Z[o.Number]
					}
				}
			}
		}
	}
	return out
}

// followAtWork adds to info, by slots, what n fish let go at site i tell: of a cell of
// probability π, π ∂log π ∂log πᵀ.
func (c *chain) followAtWork(i int, n float64, work [][]Work, info []float64) {
	l := c.layout
	size := l.river
	cell := func(share float64, by []float64) {
		for a, u := range by {
			if u == 0 {
				continue
			}
			for b, v := range by {
				info[a*size+b] += n * share * u * v
			}
		}
	}
	reach, never := 1.0, 1.0 // alive at the next site and unseen since i; not seen since
	way, gone, seen := make([]float64, size), make([]float64, size), make([]float64, size)
	missed := make([]float64, size)
	for j := i + 1; j < l.sites && reach > 0; j++ {
		s := &c.probs[l.survival[j-1]]
		reach *= s.P
		way[l.survival[j-1]] = s.U
		miss := 0.0
		clear(missed)
		for _, m := range l.atWork(work, j) {
			q := 1.0
			for _, b := range rowsOf(m.Rows) {
				q *= c.probs[l.detect[b]].Q
			}
			miss += m.Share * q
			for _, b := range rowsOf(m.Rows) {
				missed[l.detect[b]] += m.Share * q * c.probs[l.detect[b]].W
			}
			share := reach * m.Share * (1 - q)
			if share <= 0 {
				continue
			}
			// Seen by some row at work, and then by which: the rows are independent but
			// for one having seen it.
			copy(seen, way)
			for _, b := range rowsOf(m.Rows) {
				seen[l.detect[b]] = -q * c.probs[l.detect[b]].W / (1 - q)
			}
			cell(share, seen)
			never -= share
			for a, v := range seen {
				gone[a] -= share * v
			}
			for _, b := range rowsOf(m.Rows) {
				p, at := &c.probs[l.detect[b]], l.detect[b]
				info[at*size+at] += n * share * (p.P*p.U*p.U + p.Q*p.W*p.W) / (1 - q)
				for _, e := range rowsOf(m.Rows) {
					to := l.detect[e]
					info[at*size+to] -= n * share * (q*p.W*c.probs[to].W/(1-q) + seen[at]*seen[to])
				}
			}
		}
		for a, v := range missed {
			if v != 0 {
				way[a] = v / miss
			}
		}
		reach *= miss
	}
	if never > 0 {
		cell(1/never, gone)
	}
}

// atWork are the sets of rows of site k at work.
func (l *Layout) atWork(work [][]Work, k int) []Work {
	if work != nil && work[k] != nil {
		return work[k]
	}
	from, to := l.SiteRows(k)
	return []Work{{1, (1<<uint(to-from) - 1) << uint(from)}}
}

// Missed is the probability of a fish of r to pass site k unseen.
func (r *Released) Missed(d *Design, x []float64, k int) (all float64) {
	for _, w := range d.Layout.atWork(r.Work, k) {
		miss := w.Share
		for _, b := range rowsOf(w.Rows) {
			miss *= 1 - d.Prob(x, r.Class, d.Layout.Detection(b), r.Z).P
		}
		all += miss
	}
	return all
}
