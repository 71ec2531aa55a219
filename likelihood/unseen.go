package likelihood

import "math"

// Unseen is the probability that a fish of class g with numbers z, last seen
// (or released) at site i and never seen again, nevertheless passed site j > i
// alive, and its derivative by the coefficients, added to grad times w:
//
//	S_i…S_{j−1} q_{i+1}…q_j χ_j / χ_i
func (c *Chain) Unseen(x []float64, g int, z []float64, i, j int, w float64, grad []float64) float64 {
	ch, d := c.chain, c.design
	l := d.Layout
	ch.set(d, x, g, z)
	q := ch.chi[j] / ch.chi[i]
	for k := i; k < j; k++ {
		q *= ch.probs[l.survival[k]].P * ch.miss[k+1]
	}
	if grad == nil || q == 0 {
		return q
	}
	// log q: the factors up to j, plus log χ_j, minus log χ_i.
	ch.derive(i)
	for a := l.survival[i]; a < l.Slots(); a++ {
		c.slot[a] = -ch.h[a]
	}
	end := l.Slots()
	if j < l.sites-1 {
		end = l.survival[j]
		ch.derive(j)
		for a := end; a < l.Slots(); a++ {
			c.slot[a] += ch.h[a]
		}
	}
	for a := l.survival[i]; a < end; a++ {
		c.slot[a] += ch.u[a]
	}
	for a := l.survival[i]; a < l.Slots(); a++ {
		if v := c.slot[a]; v != 0 && !math.IsNaN(v) {
			d.AddGradient(grad, w*q*v, g, a, z)
		}
	}
	return q
}

// Chain follows one fish at a time along the river.
type Chain struct {
	design *Design
	chain  *chain
	slot   []float64
}

// NewChain is a chain under design.
func NewChain(d *Design) *Chain {
	return &Chain{d, newChain(d.Layout), make([]float64, d.Layout.Slots())}
}
