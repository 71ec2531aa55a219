package likelihood

import "math"

// SurvivedBy is, of newly released fish, the probability to have come to site
// k by the end of the data: S_e … S_{k−1} F_ek.
func SurvivedBy(d *Design, x []float64, fish []Wait) []PassedSums {
	if !d.carries(x, fish) {
		return nil
	}
	return waitSums(d, x, fish, func(c *chain, w *waiting, t *Wait, k int, add func(slot int, v float64)) float64 {
		// arrive leaves out what was missed on the way: here it does not matter.
		l := d.Layout
		q := 1.0
		for r := t.Site; r < k; r++ {
			q *= c.probs[l.survival[r]].P
		}
		f := 1 - w.late[k]
		for r := t.Site; r < k; r++ {
			a := l.survival[r]
			add(a, q*f*c.probs[a].U)
		}
		for m, a := range l.movement() {
			add(a, q*w.f[k].g[m])
		}
		return q * f
	})
}

func waitSums(d *Design, x []float64, fish []Wait, one func(c *chain, w *waiting, t *Wait, k int, add func(slot int, v float64)) float64) []PassedSums {
	sums := newClassSums(d)
	eachWait(d, x, fish, 1, func(c *chain, w *waiting, i int) {
		t := &fish[i]
		for k := t.Site + 1; k < d.Layout.sites; k++ {
			sums.add(t, k, func(add func(slot int, v float64)) float64 { return one(c, w, t, k, add) })
		}
	})
	return sums.out
}

// eachWait follows the fish one by one along the river, where rows work all the
// time; order 0 leaves derivatives out.
func eachWait(d *Design, x []float64, fish []Wait, order int, one func(c *chain, w *waiting, i int)) {
	c, w := newChain(d.Layout), newWaiting(d.Layout)
	for i := range fish {
		t := &fish[i]
		c.set(d, x, t.Class, t.Z)
		w.enter(d, x, t.Class, t.Z)
		w.set(c, d.Layout, t, order)
		one(c, w, i)
	}
}

// classSums are sums over fish by class.
type classSums struct {
	design *Design
	index  map[int]int
	out    []PassedSums
}

func newClassSums(d *Design) *classSums { return &classSums{design: d, index: map[int]int{}} }

// add adds the probability that the fish of t passed site k, which one returns
// and of which it gives the derivatives.
func (s *classSums) add(t *Wait, k int, one func(add func(slot int, v float64)) float64) {
	j, ok := s.index[t.Class]
	if !ok {
		j = len(s.out)
		s.index[t.Class] = j
		s.out = append(s.out, PassedSums{Class: t.Class, Sites: newSiteSums(s.design)})
	}
	to, slots := &s.out[j].Sites[k], s.design.Layout.Slots()
	q := one(func(slot int, v float64) {
		for n, zn := range t.Z {
			to.g[n*slots+slot] += t.Weight * zn * v
		}
	})
	to.Fish += t.Weight
	to.Value += t.Weight * q
	to.Own += max(0, t.Weight*q*(1-q)) // rounding can bring q out of [0, 1]
}

// Underway is the share of newly released fish that, were none to die, would
// not have come to the last site by the end of the data.
func Underway(d *Design, x []float64, fish []Wait) float64 {
	if !d.carries(x, fish) {
		return math.NaN()
	}
	l := d.Layout
	var late, all float64
	w := newWay(l)
	for i := range fish {
		t := &fish[i]
		if t.Site == l.sites-1 {
			continue
		}
		w.set(d, x, t.Class, t.Z, t.Fresh)
		late += t.Weight * w.come(t.Site, l.sites-1, t.Days, 0, nil)
		all += t.Weight
	}
	if all == 0 {
		return 0
	}
	return late / all
}

// Passing gives, for fish of one kind at a time, the chance to survive to a site
// and to have come there by a time. It is for one goroutine at a time.
type Passing struct {
	design *Design
	x      []float64
	way    way
	chain  *chain
	// entered: there is a fish, of the design.
	entered bool
}

// NewPassing is for fish under design d, of a layout with places, with
// coefficients x.
func NewPassing(d *Design, x []float64) *Passing {
	if !d.evaluates(x) || d.Layout.Km == nil {
		return &Passing{}
	}
	return &Passing{design: d, x: x, way: newWay(d.Layout), chain: newChain(d.Layout)}
}

// Enter takes fish of class g with numbers z (z[0] = 1); fresh: newly released.
func (p *Passing) Enter(g int, z []float64, fresh bool) {
	p.entered = p.design != nil && p.design.has(g, z) == nil
	if !p.entered {
		return
	}
	p.way.set(p.design, p.x, g, z, fresh)
	p.chain.set(p.design, p.x, g, z)
}

// reaches: a fish has entered, and there are the sites.
func (p *Passing) reaches(i, k int) bool {
	return p.entered && i >= 0 && i <= k && k < p.design.Layout.sites
}

// Survived is S_i … S_{k−1}.
func (p *Passing) Survived(i, k int) float64 {
	if !p.reaches(i, k) {
		return math.NaN()
	}
	s := 1.0
	for r := i; r < k; r++ {
		s *= p.chain.probs[p.design.Layout.survival[r]].P
	}
	return s
}

// By is F_ik, the share of the fish let go at site i that, were none to die, would
// have come to site k by days.
func (p *Passing) By(i, k int, days float64) float64 {
	if !p.reaches(i, k) {
		return math.NaN()
	}
	if days <= 0 {
		return 0
	}
	return 1 - p.way.come(i, k, days, 0, nil)
}
