package likelihood

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

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

// of tells whether the slots, numbers and weights of the quantity are there.
func (q *Quantity) of(d *Design) bool {
	if d == nil || d.Layout == nil || d.Numbers < 1 || d.Numbers > MaxNumbers {
		return false
	}
	for i := range q.Means {
		m := &q.Means[i]
		if len(m.Z) != d.Numbers-1 && m.N > 0 || m.Weight != nil && len(m.Weight) < m.N {
			return false
		}
		for _, z := range m.Z {
			if len(z) < m.N {
				return false
			}
		}
		for _, f := range m.Factors {
			if !d.within(m.Class, f.Slot, d.Columns, d.Numbers) {
				return false
			}
		}
	}
	return true
}

// Eval sets p.F to the quantity at x, from order 1 on p.G and from order 2 on
// p.H to its derivatives. Of another design than the quantity's, or another number
// of coefficients, it is NaN.
func (q *Quantity) Eval(d *Design, x []float64, order int, p *Point) {
	if p == nil {
		return
	}
	if !q.of(d) || len(x) != d.Columns {
		p.F = math.NaN()
		return
	}
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
				pr := d.prob(x, m.Class, c.Slot, z)
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

// Key tells quantities apart: those with the same key are the same function of
// the coefficients, whichever classes they were asked of. "" where fish of a
// class differ, and it cannot be told so simply, or q is of another design.
func (q *Quantity) Key(d *Design) string {
	for _, m := range q.Means {
		for _, f := range m.Factors {
			if !d.hasSlot(m.Class, f.Slot) {
				return ""
			}
		}
	}
	complement := q.Complement
	if f, ok := q.single(); ok && complement {
		// 1 − (1 − p) is p.
		q = &Quantity{Means: slices.Clone(q.Means)}
		f.Miss, complement = !f.Miss, false
		for i := range q.Means {
			q.Means[i].Factors = []Factor{f}
		}
	}
	weight := map[string]float64{}
	for i := range q.Means {
		m := &q.Means[i]
		var factors []string
		for _, c := range m.Factors {
			if d.Varies(m.Class, c.Slot) {
				return ""
			}
			factors = append(factors, factorKey(d, m.Class, c))
		}
		slices.Sort(factors)
		weight[strings.Join(factors, "·")] += m.total()
	}
	var terms []string
	for factors, w := range weight {
		terms = append(terms, fmt.Sprintf("%.12g×%s", w, factors))
	}
	slices.Sort(terms)
	return fmt.Sprint(complement, terms)
}

// wholeWeight: shares of fish that add up to one differ from it by rounding.
const wholeWeight = 1e-12

// single is the one factor of q where it is a mean of that alone.
func (q *Quantity) single() (f Factor, ok bool) {
	var total float64
	for i := range q.Means {
		m := &q.Means[i]
		if len(m.Factors) != 1 || i > 0 && m.Factors[0] != f {
			return f, false
		}
		f = m.Factors[0]
		total += m.total()
	}
	return f, math.Abs(total-1) < wholeWeight
}

// total is the weight of all fish of m.
func (m *Mean) total() float64 {
	w := m.Each * float64(m.N)
	if m.Weight != nil {
		w = 0
		for _, v := range m.Weight[:min(max(m.N, 0), len(m.Weight))] {
			w += v
		}
	}
	if m.Scale != 0 {
		w *= m.Scale
	}
	return w
}

// factorKey is a factor by what its slot is made of.
func factorKey(d *Design, class int, c Factor) string {
	l := d.Links[class][c.Slot]
	if l.Kind == Fixed {
		return fmt.Sprint(l, c.Miss)
	}
	sum := map[int]float64{}
	for _, e := range d.Slots[class][c.Slot] {
		sum[e.Column] += e.Value
	}
	return fmt.Sprint(l, c.Miss, sum) // maps print in the order of their keys
}
