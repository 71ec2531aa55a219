package likelihood

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Key tells quantities apart: those with the same key are the same function of
// the coefficients, whichever classes they were asked of. "" where fish of a
// class differ, and it cannot be told so simply.
func (q *Quantity) Key(d *Design) string {
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
		for _, v := range m.Weight[:m.N] {
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
