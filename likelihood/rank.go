package likelihood

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.org/unseen/likelihood/linear"
)

// Work is a set of a site's rows that is at work while a share of the fish pass, and
// no other row there.
type Work struct {
	Share float64 // of the passages
	Rows  uint64  // numbered rows, as bits
}

// Released is fish of one class with the same numbers, by site of release.
type Released struct {
	Class int       // index of the fish's class
	Z     []float64 // numbers of the fish as in [Unit]
	// At[i] is the number released at site i; only whether it is zero matters
	// for the rank.
	At []float64
	// Work are, by site, the sets of rows at work as the fish pass, with shares that
	// are known and add up to 1; nil: all rows, always. See [ExpectedAtWork].
	Work [][]Work
}

// releases tells whether they are of the design.
func (d *Design) releases(list []Released) bool {
	for i := range list {
		r := &list[i]
		if d.has(r.Class, r.Z) != nil || len(r.At) > d.Layout.sites || r.Work != nil && len(r.Work) != d.Layout.sites {
			return false
		}
	}
	return true
}

// perSlot tells whether v has a value for every slot of every class.
func (d *Design) perSlot(v [][]float64) bool {
	return len(v) == len(d.Slots) && !slices.ContainsFunc(v, func(of []float64) bool { return len(of) != d.Layout.Slots() })
}

// DesignRank is the number of coefficients, or combinations of them, that the
// releases could tell apart: the rank of the derivative of all cell
// probabilities at interior points (Catchpole & Morgan 1997), found as the
// rank of the expected information, which is the same. fixed counts (test
// passes) are added as they are. The points are drawn with a fixed seed.
func DesignRank(d *Design, releases []Released, fixed []Unit) int {
	_, s := DesignInformation(d, releases, fixed)
	if s == nil {
		return 0
	}
	return s.Rank(linear.RankTolerance)
}

// DesignInformation is the expected information of which [DesignRank] is the
// rank, at the interior point x where the rank was greatest; nil where it
// could not be had.
func DesignInformation(d *Design, releases []Released, fixed []Unit) (x []float64, info *linear.Eigen) {
	if d.shaped() != nil || !d.releases(releases) || (&Data{Units: fixed}).fits(d) != nil {
		return nil, nil
	}
	for seed := range uint64(3) {
		at := Interior(d, seed)
		data := &Data{Units: append([]Unit(nil), fixed...)}
		for i := range releases {
			r := &releases[i]
			data.Units = append(data.Units, Expected(d, at, r.Class, r.Z, r.At))
		}
		var p Point
		NewCJS(d, data).Eval(at, 2, &p)
		for i := range p.H {
			p.H[i] = -p.H[i]
		}
		if s, ok := linear.Decompose(p.H, d.Columns); ok && (info == nil || s.Rank(linear.RankTolerance) > info.Rank(linear.RankTolerance)) {
			x, info = at, s
		}
		if info != nil && info.Rank(linear.RankTolerance) == d.Columns {
			break // none is greater
		}
	}
	return x, info
}

// Interior is a point at which all probabilities are well inside (0, 1) as far
// as the design allows, with no symmetry; drawn from seed.
func Interior(d *Design, seed uint64) []float64 {
	if d.shaped() != nil {
		return nil
	}
	rnd := rand.New(rand.NewPCG(seed, 0x1a7e))
	target := make([][]float64, d.Classes())
	for g := range target {
		target[g] = make([]float64, d.Layout.Slots())
		for a := range target[g] {
			target[g][a] = 0.45 + 0.4*rnd.Float64()
		}
	}
	x := Project(d, target, nil)
	for j, set := range numbered(d) {
		if set {
			x[j] = 0.3 * rnd.NormFloat64()
		}
	}
	return x
}

// numbered marks the columns that act through numbers of the fish only.
func numbered(d *Design) []bool {
	out := make([]bool, d.Columns)
	for i := range out {
		out[i] = true
	}
	for g := range d.Slots {
		for a := range d.Slots[g] {
			for _, e := range d.Slots[g][a] {
				if e.Number == 0 {
					out[e.Column] = false
				}
			}
		}
	}
	return out
}

// Project is the coefficients whose predictors come nearest, by weighted least
// squares, to those of the probabilities target[class][slot] for fish whose
// numbers are at their mean. Weights nil are 1; a target of NaN counts for
// nothing.
func Project(d *Design, target, weight [][]float64) []float64 {
	if d.shaped() != nil || !d.perSlot(target) || weight != nil && !d.perSlot(weight) {
		return nil
	}
	n := d.Columns
	a := make([]float64, n*n)
	b := make([]float64, n)
	for g := range d.Slots {
		for s := range d.Slots[g] {
			if d.Links[g][s].Kind == Fixed || math.IsNaN(target[g][s]) {
				continue
			}
			w := 1.0
			if weight != nil {
				w = weight[g][s]
			}
			eta := d.Links[g][s].Inverse(target[g][s])
			for _, e := range d.Slots[g][s] {
				if e.Number != 0 {
					continue
				}
				b[e.Column] += w * e.Value * eta
				for _, f := range d.Slots[g][s] {
					if f.Number == 0 {
						a[e.Column*n+f.Column] += w * e.Value * f.Value
					}
				}
			}
		}
	}
	x := make([]float64, n)
	if n > 0 {
		linear.SolveRidge(a, b, n, 1e-10, x)
	}
	return x
}

// ExpectedAtWork is minus the expected Hessian at x, Columns × Columns, of the
// log-likelihood of the releases, each followed to its next sighting, where rows do not
// work all the time ([Released.Work]). Of a fish that was seen it is known which rows
// were at work, of one that was missed not.
func ExpectedAtWork(d *Design, x []float64, releases []Released) []float64 {
	if !d.evaluates(x) || !d.releases(releases) {
		return nil
	}
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
	if !d.evaluates(x) || !d.releases([]Released{*r}) || k < 1 || k >= d.Layout.sites {
		return math.NaN()
	}
	for _, w := range d.Layout.atWork(r.Work, k) {
		miss := w.Share
		for _, b := range rowsOf(w.Rows) {
			miss *= 1 - d.prob(x, r.Class, d.Layout.Detection(b), r.Z).P
		}
		all += miss
	}
	return all
}
