package growth

import (
	"fmt"
	"math"
	"strings"

	"example.org/unseen/history"
)

// New works out the growth of the fish in h; caught may be nil. It returns an
// error when there is nothing to work on, or lengths that cannot be compared.
func New(h *history.Histories, caught *Recaptures, opt Options) (*Result, error) {
	if err := h.Check(); err != nil {
		return nil, err
	}
	if w := opt.TagWeightG; !(w >= 0) || math.IsInf(w, 0) {
		return nil, fmt.Errorf("a tag weighs %v g; its weight is above 0, or 0 where it is not known", w)
	}
	r := &Result{}
	var length *history.Column
	for _, name := range Lengths {
		if c := h.Column(name); c != nil {
			length, r.Length = c, name
			break
		}
	}
	weight := h.Column(Weight)
	tag := h.Column(TagWeight)
	for _, c := range []*history.Column{length, weight, tag} {
		if c != nil && c.IsCategory() {
			return nil, fmt.Errorf("column %q holds text; growth needs numbers", c.Name)
		}
	}
	if length == nil && weight == nil && caught == nil {
		return nil, fmt.Errorf("the fish have no length and no weight: name a column of the tagging table %s or %s, as in columns = { %s = \"FL\" }", strings.Join(Lengths, ", "), Weight, Lengths[0])
	}
	if caught != nil && caught.Length != "" && length != nil && caught.Length != r.Length {
		return nil, fmt.Errorf("the tagging table has %s and the recaptures have %s; growth needs the same length at both", r.Length, caught.Length)
	}
	m := &measures{h: h, length: measured(length, h.Len()), weight: measured(weight, h.Len()), flags: make([]Flag, h.Len())}
	for i := range h.Len() {
		for _, x := range [][]float64{m.length, m.weight} {
			if x[i] <= 0 {
				x[i] = math.NaN()
				m.flags[i] |= NotPositive
			}
		}
		if oddCondition(Condition(m.length[i], m.weight[i])) {
			m.flags[i] |= OddCondition
		}
	}
	if caught != nil {
		if err := r.grow(m, caught); err != nil {
			return nil, err
		}
	}
	r.lines(m)
	r.tagging(m)
	r.burden(m, tag, opt)
	return r, nil
}
