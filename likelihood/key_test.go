package likelihood

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// twoCohorts is a river of three sites where two classes share detection and
// differ in survival; class 1 has a slope by a number in its second reach.
func twoCohorts() *Design {
	logit := Link{Kind: Logit}
	p, q := []Entry{{2, 0, 1}}, []Entry{{3, 0, 1}}
	return &Design{Layout: layoutOf([]int{1, 1, 1}), Columns: 5, Numbers: 2,
		Slots: [][][]Entry{{{{0, 0, 1}}, p, {{0, 0, 1}}, q}, {{{1, 0, 1}}, p, {{1, 0, 1}, {4, 1, 1}}, q}},
		Links: [][]Link{{logit, logit, logit, logit}, {logit, logit, logit, logit}}}
}

func of(complement bool, means ...Mean) *Quantity { return &Quantity{means, complement} }

func product(class int, weight float64, factors ...Factor) Mean {
	return Mean{Class: class, Factors: factors, Each: weight / 2, N: 2}
}

// TestKeys: pairs of quantities, by hand the same function of the coefficients
// or not; where the keys agree so do the values, at random coefficients.
func TestKeys(t *testing.T) {
	d := twoCohorts()
	see, miss, see2 := Factor{Slot: 1}, Factor{Slot: 1, Miss: true}, Factor{Slot: 3}
	live := Factor{Slot: 0}
	for _, c := range []struct {
		about string
		a, b  *Quantity
		same  bool
	}{
		{"a detection shared by classes", of(false, product(0, 1, see)), of(false, product(1, 1, see)), true},
		{"its mean over both", of(false, product(0, 1, see)), of(false, product(0, 0.1, see), product(1, 0.9, see)), true},
		{"one less what is missed", of(false, product(0, 1, see)), of(true, product(0, 0.3, miss), product(1, 0.7, miss)), true},
		{"one less half of what is missed", of(false, product(0, 1, see)), of(true, product(0, 0.5, miss)), false},
		{"what is missed", of(false, product(0, 1, see)), of(false, product(0, 1, miss)), false},
		{"another site", of(false, product(0, 1, see)), of(false, product(0, 1, see2)), false},
		{"factors in another order", of(false, product(0, 1, see, live)), of(false, product(0, 1, live, see)), true},
		{"survival of another class", of(false, product(0, 1, live)), of(false, product(1, 1, live)), false},
		{"other shares of the classes", of(false, product(0, 0.5, live), product(1, 0.5, live)), of(false, product(0, 0.4, live), product(1, 0.6, live)), false},
		{"reaches of one survival", of(false, product(0, 1, live)), of(false, product(0, 1, Factor{Slot: 2})), true},
		{"a scale for a weight", of(false, product(0, 0.25, live)), of(false, Mean{Class: 0, Factors: []Factor{live}, Weight: []float64{2, 3}, Scale: 0.05, N: 2}), true},
	} {
		assert.Equal(t, c.same, c.a.Key(d) == c.b.Key(d), c.about)
		rnd := rand.New(rand.NewPCG(5, 6))
		for range 3 {
			x := randomX(rnd, d.Columns, 1)
			var p, q Point
			z := [][]float64{{0, 0}}
			for _, m := range [][]Mean{c.a.Means, c.b.Means} {
				for i := range m {
					m[i].Z = z
				}
			}
			c.a.Eval(d, x, 0, &p)
			c.b.Eval(d, x, 0, &q)
			if c.same {
				assert.InDelta(t, p.F, q.F, 1e-14, c.about) // rounding
			} else {
				assert.Greater(t, max(p.F-q.F, q.F-p.F), 1e-3, c.about)
			}
		}
	}
	assert.Empty(t, of(false, product(1, 1, Factor{Slot: 2})).Key(d), "fish of the class differ")
}
