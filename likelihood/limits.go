package likelihood

import (
	"math"
	"slices"
)

// A likelihood need not have its maximum at finite coefficients: where all fish
// known to have passed were detected, or where a number of the fish parts those
// seen again from the others, it rises as coefficients go to infinity. A
// direction in which they do is enough to say what the probabilities tend to:
// where the predictor rises, 1 (0 for a rate of mortality), where it falls the
// other, and where it stays they are what they were.

// limitMargin: directions are scaled so that the predictor of every fish of the
// data that moves at all moves by at least 1; one that moves by less than this
// stays where it is.
const limitMargin = 1e-6

// WithLimits is the design as the coefficients go to infinity in the directions
// (each of Columns values), in the first infinitely faster than in the second,
// and so on. Directions are scaled so that a predictor of a fish of the data
// moves by 1 or more, or not at all. nil of other directions.
func (d *Design) WithLimits(directions [][]float64) *Design {
	if len(directions) == 0 {
		return d
	}
	if d.shaped() != nil || slices.ContainsFunc(directions, func(x []float64) bool { return len(x) != d.Columns }) {
		return nil
	}
	c := *d
	c.Links = make([][]Link, len(d.Links))
	c.rising = make([][][][]float64, len(d.Links))
	varies := false
	for g := range d.Links {
		c.Links[g] = append([]Link(nil), d.Links[g]...)
		c.rising[g] = make([][][]float64, len(d.Links[g]))
		for a, link := range d.Links[g] {
			if link.Kind == Fixed {
				continue
			}
			rates := d.rates(directions, g, a)
			switch moves, constant := describe(rates); {
			case !moves:
			case constant:
				c.Links[g][a] = Link{Kind: Fixed, Value: link.limit(firstRate(rates, nil))}
			default:
				c.rising[g][a] = rates
				varies = true
			}
		}
	}
	if !varies {
		c.rising = nil
	}
	return &c
}

// rates are the changes of the predictor of slot a of class g in each direction,
// by number of the fish.
func (d *Design) rates(directions [][]float64, g, a int) [][]float64 {
	out := make([][]float64, len(directions))
	for i, dir := range directions {
		out[i] = make([]float64, d.Numbers)
		var size float64
		for _, e := range d.Slots[g][a] {
			out[i][e.Number] += e.Value * dir[e.Column]
			size = max(size, math.Abs(e.Value*dir[e.Column]))
		}
		// What cancels is zero.
		for n, v := range out[i] {
			if math.Abs(v) < 1e-9*size {
				out[i][n] = 0
			}
		}
	}
	return out
}

// describe tells whether a slot moves at all, and whether it does so alike for
// all fish from the first direction in which it moves.
func describe(rates [][]float64) (moves, constant bool) {
	for _, r := range rates {
		for _, v := range r[1:] {
			if v != 0 {
				return true, false
			}
		}
		if math.Abs(r[0]) >= limitMargin {
			return true, true
		}
	}
	return false, false
}

// firstRate is the change of a predictor in the first direction in which that of
// a fish with numbers z (nil: the constant alone) moves; 0 where it stays.
func firstRate(rates [][]float64, z []float64) float64 {
	for _, r := range rates {
		v := r[0]
		for n := 1; n < len(z); n++ {
			v += r[n] * z[n]
		}
		if math.Abs(v) >= limitMargin {
			return v
		}
	}
	return 0
}

// limit is what the probability tends to as its predictor moves by rate ≠ 0.
func (l Link) limit(rate float64) float64 {
	if (rate > 0) == (l.Kind != Rate) {
		return 1
	}
	return 0
}

// atLimit is the probability of a slot for a fish with numbers z where it is at
// a limit that differs between the fish of the class.
func (d *Design) atLimit(g, a int, z []float64) (Prob, bool) {
	rates := d.rising[g][a]
	if rates == nil {
		return Prob{}, false
	}
	v := firstRate(rates, z)
	if v == 0 {
		return Prob{}, false
	}
	return Link{Kind: Fixed, Value: d.Links[g][a].limit(v)}.At(0), true
}

// AtLimit tells how the predictor of slot a, for a fish of class g with numbers
// z, changes in the first direction that moves it, where that differs between
// the fish of the class; 0 where none does. By 1 or more it does for fish like
// those of the data; by less for one between them, which other directions might
// move the other way.
func (d *Design) AtLimit(g, a int, z []float64) float64 {
	if !d.Parts(g, a) || len(z) < d.Numbers {
		return 0
	}
	return firstRate(d.rising[g][a], z)
}

// Parts tells whether slot a of class g is at a limit that differs between the
// fish of the class.
func (d *Design) Parts(g, a int) bool {
	return d.rising != nil && d.hasSlot(g, a) && d.rising[g][a] != nil
}

// Prob is the probability of slot a for a fish of class g with numbers z; NaN
// where the design has no such slot, column or number.
func (d *Design) Prob(x []float64, g, a int, z []float64) Prob {
	if !d.within(g, a, len(x), len(z)) {
		return Prob{P: math.NaN(), Q: math.NaN()}
	}
	return d.prob(x, g, a, z)
}

func (d *Design) prob(x []float64, g, a int, z []float64) Prob {
	if d.rising != nil {
		if p, at := d.atLimit(g, a, z); at {
			return p
		}
	}
	return d.Links[g][a].At(d.predictor(x, g, a, z))
}
