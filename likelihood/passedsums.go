package likelihood

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// FishGroup is fish of one class at one site: newly released there, or last seen
// there and never again.
type FishGroup struct {
	Class, Site int // indices of the class and of the site
	// Z[n−1] are number n of the fish, Numbers−1 columns of N values.
	Z [][]float64
	// Weight is the number of fish alike; nil: one each.
	Weight []float64
	N      int
}

// PassedSums is, for the fish of one class and every site k, sums over fish of a
// probability and its derivatives by the predictors.
type PassedSums struct {
	Class int       // index of the fish's class
	Sites []SiteSum // a sum for each site
}

// SiteSum is a sum over fish for one site.
type SiteSum struct {
	Fish  float64 // number of fish it is over
	Value float64 // Σ q
	Own   float64 // Σ q(1 − q)
	g     []float64
}

// AddTo adds the site's sums, times w, to value and grad (length Columns).
func (p *PassedSums) AddTo(d *Design, k int, w float64, grad []float64) (value, own float64) {
	if k < 0 || k >= len(p.Sites) {
		return math.NaN(), math.NaN()
	}
	s := &p.Sites[k]
	if grad != nil && d != nil && d.Layout != nil && len(s.g) == d.Numbers*d.Layout.Slots() {
		v := d.Layout.Slots()
		for a := range v {
			if !d.within(p.Class, a, len(grad), d.Numbers) || d.Links[p.Class][a].Kind == Fixed {
				continue
			}
			for _, e := range d.Slots[p.Class][a] {
				grad[e.Column] += w * e.Value * s.g[e.Number*v+a]
			}
		}
	}
	return w * s.Value, w * s.Own
}

// What the sums are of.
type sumKind uint8

const (
	survived sumKind = iota
	detected
	unseen
)

// Survived is, of newly released fish, the probability to reach site k:
// S_e … S_{k−1} for entry e < k. One PassedSums a class that occurs.
func Survived(d *Design, x []float64, fish []FishGroup) []PassedSums {
	return passedSums(d, x, fish, survived)
}

// Detected is, of newly released fish that entered above site k, the
// probability to be detected at k when passing it: 1 − Π(1 − p) over its rows.
func Detected(d *Design, x []float64, fish []FishGroup) []PassedSums {
	return passedSums(d, x, fish, detected)
}

// Unseen is, of fish last seen (or released) at site i and never again, the
// probability that they nevertheless passed site k > i alive:
//
//	S_i…S_{k−1} q_{i+1}…q_k χ_k / χ_i
func Unseen(d *Design, x []float64, fish []FishGroup) []PassedSums {
	return passedSums(d, x, fish, unseen)
}

// sumChunk is how many fish one task takes: fixed, so that sums have the
// same bits at any number of cores.
const sumChunk = 1 << 14

func passedSums(d *Design, x []float64, fish []FishGroup, kind sumKind) []PassedSums {
	if !d.evaluates(x) || slices.ContainsFunc(fish, func(f FishGroup) bool {
		return (&HistoryGroup{Class: f.Class, Entry: f.Site, Last: f.Site, Z: f.Z, Weight: f.Weight, N: f.N}).fits(d) != nil
	}) {
		return nil
	}
	fish = collapse(d, fish, kind)
	type task struct{ fishGroup, from, to int }
	var tasks []task
	for i := range fish {
		for at := 0; at < fish[i].N; at += sumChunk {
			tasks = append(tasks, task{i, at, min(at+sumChunk, fish[i].N)})
		}
	}
	sums := make([][]SiteSum, len(tasks))
	run := func(w *walker, t int) {
		sums[t] = newSiteSums(d)
		w.walk(d, x, &fish[tasks[t].fishGroup], tasks[t].from, tasks[t].to, kind, sums[t])
	}
	workers := min(runtime.GOMAXPROCS(0), len(tasks))
	if workers <= 1 || len(tasks) == len(fish) && len(fish) < 64 {
		w := newWalker(d)
		for t := range tasks {
			run(w, t)
		}
	} else {
		var next atomic.Int64
		var wg sync.WaitGroup
		for range workers {
			wg.Go(func() {
				w := newWalker(d)
				for {
					t := int(next.Add(1)) - 1
					if t >= len(tasks) {
						return
					}
					run(w, t)
				}
			})
		}
		wg.Wait()
	}
	var out []PassedSums
	index := map[int]int{}
	for t := range tasks {
		g := fish[tasks[t].fishGroup].Class
		i, ok := index[g]
		if !ok {
			i = len(out)
			index[g] = i
			out = append(out, PassedSums{Class: g, Sites: newSiteSums(d)})
		}
		for k := range sums[t] {
			a, b := &out[i].Sites[k], &sums[t][k]
			a.Fish += b.Fish
			a.Value += b.Value
			a.Own += b.Own
			for j, v := range b.g {
				a.g[j] += v
			}
		}
	}
	return out
}

// needs tells whether slot a has a part in the kind of passage.
func (k sumKind) needs(l *Layout, a int) bool {
	switch k {
	case survived:
		return l.reach[a] >= 0
	case detected:
		return l.row[a] >= 0
	default:
		return a < l.river
	}
}

// collapse makes one fish of a group whose fish are alike in all that the kind
// of passage needs.
func collapse(d *Design, fish []FishGroup, kind sumKind) []FishGroup {
	var out []FishGroup
	for i, b := range fish {
		alike := b.N > 1
		for a := range d.Layout.river {
			alike = alike && !(kind.needs(d.Layout, a) && d.Varies(b.Class, a))
		}
		if !alike {
			continue
		}
		if out == nil {
			out = append([]FishGroup(nil), fish...)
		}
		w := float64(b.N)
		if b.Weight != nil {
			w = 0
			for _, x := range b.Weight {
				w += x
			}
		}
		one := FishGroup{Class: b.Class, Site: b.Site, Weight: []float64{w}, N: 1}
		for range b.Z {
			one.Z = append(one.Z, []float64{0})
		}
		out[i] = one
	}
	if out == nil {
		return fish
	}
	return out
}

func newSiteSums(d *Design) []SiteSum {
	n := d.Layout.Slots() * d.Numbers
	flat := make([]float64, d.Layout.sites*n)
	out := make([]SiteSum, d.Layout.sites)
	for k := range out {
		out[k].g = flat[k*n : (k+1)*n]
	}
	return out
}

// walker follows one fish at a time along the river.
type walker struct {
	chain *chain
	hi    []float64 // h of the site the fish was last seen at
	z     []float64
	vary  []int // slots that differ between the fish of the group
}

func newWalker(d *Design) *walker {
	return &walker{chain: newChain(d.Layout), hi: make([]float64, d.Layout.Slots()), z: append([]float64{1}, make([]float64, d.Numbers-1)...)}
}

func (w *walker) walk(d *Design, x []float64, b *FishGroup, from, to int, kind sumKind, sums []SiteSum) {
	l := d.Layout
	v := l.Slots()
	c := w.chain
	add := func(s *SiteSum, a int, t float64) {
		for n, zn := range w.z {
			s.g[n*v+a] += t * zn
		}
	}
	// What does not vary between the fish is worked out once.
	vary := w.vary[:0]
	for a := l.start(b.Site); a < l.river; a++ {
		if !kind.needs(l, a) {
			continue
		}
		if d.Varies(b.Class, a) {
			vary = append(vary, a)
		} else {
			c.probs[a] = d.prob(x, b.Class, a, w.z)
		}
	}
	w.vary = vary
	for f := from; f < to; f++ {
		for n := range b.Z {
			w.z[n+1] = b.Z[n][f]
		}
		weight := 1.0
		if b.Weight != nil {
			weight = b.Weight[f]
		}
		for _, a := range vary {
			c.probs[a] = d.prob(x, b.Class, a, w.z)
		}
		if kind == unseen {
			c.run(b.Site)
			c.derive(b.Site)
			copy(w.hi, c.h)
		}
		reach := weight
		for k := b.Site + 1; k < l.sites; k++ {
			s := &sums[k]
			s.Fish += weight
			switch kind {
			case survived:
				reach *= c.probs[l.survival[k-1]].P
				s.Value += reach
				for r := b.Site; r < k; r++ {
					a := l.survival[r]
					add(s, a, reach*c.probs[a].U)
				}
			case detected:
				r0, r1 := l.SiteRows(k)
				miss := weight
				for r := r0; r < r1; r++ {
					miss *= c.probs[l.detect[r]].Q
				}
				s.Value += weight - miss
				for r := r0; r < r1; r++ {
					a := l.detect[r]
					add(s, a, -miss*c.probs[a].W)
				}
			case unseen:
				reach *= c.probs[l.survival[k-1]].P * c.miss[k]
				q := reach * c.chi[k] / c.chi[b.Site]
				s.Value += q
				s.Own += max(0, q*(1-q/weight)) // rounding can bring q above it
				if q == 0 {
					continue
				}
				// log q: the factors above k, plus log χ_k, minus log χ_i.
				end := l.start(k)
				for a := l.start(b.Site); a < end; a++ {
					u := c.probs[a].U
					if l.row[a] >= 0 {
						u = c.probs[a].W
					}
					add(s, a, q*(u-w.hi[a]))
				}
				c.derive(k)
				for a := end; a < l.river; a++ {
					add(s, a, q*(c.h[a]-w.hi[a]))
				}
			}
		}
	}
}

// start is the first slot below site k; past the river's at the last site.
func (l *Layout) start(k int) int {
	if k >= l.sites-1 {
		return l.river
	}
	return l.survival[k]
}
