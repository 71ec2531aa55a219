package likelihood

import (
	"fmt"
	"math"
)

// MaxNumbers is the largest length of a fish's numbers z.
const MaxNumbers = 10

// Entry says that a column of the design has a part in a predictor: the
// predictor gains Value · z[Number] · x[Column].
type Entry struct {
	Column int // index of the coefficient
	// Number is the index into the fish's numbers z; 0 is the constant 1.
	Number int
	Value  float64
}

// Design maps coefficients x to the predictors of every fish. Fish of one
// class share all categories; what else differs between them are their
// numbers z, z[0] = 1. The predictor of slot a for a fish of class g is
//
//	η = Σ over Slots[g][a] of Value · z[Number] · x[Column]
type Design struct {
	Layout *Layout // the slots
	// Columns is the number of coefficients, Numbers the length of z (≥ 1).
	Columns, Numbers int
	// Slots[g][a] are the entries of slot a for class g.
	Slots [][][]Entry
	// Links[g][a] is the link of slot a for class g.
	Links [][]Link

	// rising[g][a] are, for a slot at a limit that differs between the fish
	// of its class, the parts of each direction by number; see WithLimits.
	rising [][][][]float64
}

// Classes is the number of classes.
func (d *Design) Classes() int { return len(d.Slots) }

func (d *Design) hasSlot(g, a int) bool {
	return d != nil && g >= 0 && g < min(len(d.Slots), len(d.Links)) && a >= 0 && a < min(len(d.Slots[g]), len(d.Links[g]))
}

// Varies tells whether slot a differs between fish of class g.
func (d *Design) Varies(g, a int) bool {
	if !d.hasSlot(g, a) || d.Links[g][a].Kind == Fixed {
		return false
	}
	for _, e := range d.Slots[g][a] {
		if e.Number != 0 {
			return true
		}
	}
	return false
}

// Differs tells whether any slot differs between fish of class g.
func (d *Design) Differs(g int) bool {
	for a := 0; d.hasSlot(g, a); a++ {
		if d.Varies(g, a) {
			return true
		}
	}
	return false
}

// within tells whether slot a of class g is there, and made of no more columns
// and numbers than there are.
func (d *Design) within(g, a, columns, numbers int) bool {
	if !d.hasSlot(g, a) {
		return false
	}
	for _, e := range d.Slots[g][a] {
		if e.Column < 0 || e.Column >= columns || e.Number < 0 || e.Number >= numbers {
			return false
		}
	}
	return true
}

// Predictor is η of slot a for a fish of class g with numbers z; NaN where the
// design has no such slot, column or number.
func (d *Design) Predictor(x []float64, g, a int, z []float64) float64 {
	if !d.within(g, a, len(x), len(z)) {
		return math.NaN()
	}
	return d.predictor(x, g, a, z)
}

func (d *Design) predictor(x []float64, g, a int, z []float64) float64 {
	var eta float64
	for _, e := range d.Slots[g][a] {
		eta += e.Value * z[e.Number] * x[e.Column]
	}
	return eta
}

// WithLinks is the design with other links, each for a slot of a class.
func (d *Design) WithLinks(links [][]Link) *Design {
	c := *d
	c.Links, c.rising = links, nil
	return &c
}

// AddGradient adds scale · dη/dx of slot a, class g, numbers z to grad
// (length Columns); nothing where the design has no such slot, column or number.
func (d *Design) AddGradient(grad []float64, scale float64, g, a int, z []float64) {
	if !d.within(g, a, len(grad), len(z)) {
		return
	}
	for _, e := range d.Slots[g][a] {
		grad[e.Column] += scale * e.Value * z[e.Number]
	}
}

// Component is the design of some classes by some columns, those that their slots
// use; the other classes have no slots left. nil of a design that
// Check refuses.
func (d *Design) Component(columns []int, in func(class int) bool) *Design {
	if d.shaped() != nil || in == nil {
		return nil
	}
	at := make(map[int]int, len(columns))
	for i, j := range columns {
		at[j] = i
	}
	c := *d
	c.Columns, c.rising = len(columns), nil
	c.Slots = make([][][]Entry, len(d.Slots))
	for g := range d.Slots {
		c.Slots[g] = make([][]Entry, len(d.Slots[g]))
		for a, es := range d.Slots[g] {
			for _, e := range es {
				if in(g) {
					e.Column = at[e.Column]
					c.Slots[g][a] = append(c.Slots[g][a], e)
				}
			}
		}
	}
	return &c
}

func zeroed(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	v = v[:n]
	clear(v)
	return v
}

// shaped is [Design.Check] without a look at the values of entries and links,
// which in a limit may be what no design begins with.
func (d *Design) shaped() error {
	if d == nil || d.Layout == nil || d.Layout.sites == 0 {
		return fmt.Errorf("the design has no layout; make one with NewLayout")
	}
	if l := d.Layout; len(l.Rows) != l.sites || l.Km != nil && len(l.Km) != l.sites || (l.Km != nil) != (len(l.moves) > 0) || len(l.reach) != l.river+len(l.moves) {
		return fmt.Errorf("the layout was changed after it was made; make another with NewLayout and Timed")
	}
	if d.Columns < 0 || d.Numbers < 1 || d.Numbers > MaxNumbers {
		return fmt.Errorf("the design has %d columns and %d numbers; it has at least no column and from 1 to %d numbers, the first being the constant 1", d.Columns, d.Numbers, MaxNumbers)
	}
	if len(d.Links) != len(d.Slots) {
		return fmt.Errorf("the design has slots of %d classes and links of %d; both are of the same classes", len(d.Slots), len(d.Links))
	}
	for g := range d.Slots {
		if n := d.Layout.Slots(); len(d.Slots[g]) != n || len(d.Links[g]) != n {
			return fmt.Errorf("class %d has %d slots and %d links; the layout has %d", g, len(d.Slots[g]), len(d.Links[g]), n)
		}
		for a := range d.Slots[g] {
			for _, e := range d.Slots[g][a] {
				if e.Column < 0 || e.Column >= d.Columns || e.Number < 0 || e.Number >= d.Numbers {
					return fmt.Errorf("class %d, slot %d: %v times number %d in column %d; there are %d columns and %d numbers", g, a, e.Value, e.Number, e.Column, d.Columns, d.Numbers)
				}
			}
		}
	}
	return nil
}

// evaluates tells whether the design can be evaluated at x, for those who ask for
// sums over fish.
func (d *Design) evaluates(x []float64) bool { return d.shaped() == nil && len(x) == d.Columns }

// has: a class of the design, and as many numbers as it has.
func (d *Design) has(class int, z []float64) error {
	if class < 0 || class >= d.Classes() {
		return fmt.Errorf("class %d; the design has %d", class, d.Classes())
	}
	if len(z) != d.Numbers {
		return fmt.Errorf("the numbers %v; the design has %d, the constant 1 the first", z, d.Numbers)
	}
	return nil
}
