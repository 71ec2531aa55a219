package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/likelihood"
)

// ratioColumns is of how many coefficients a ratio is profiled at most: of more it
// would take minutes.
const ratioColumns = 100

// ratioLimits are the limits of the ratio of two quantities by profile likelihood;
// NaN where one cannot be found, as where the ratio has no end.
func (f *Fit) ratioLimits(ctx context.Context, a, b *likelihood.Quantity, ratio float64) (low, high float64, err error) {
	of := f
	if at, with := f.inOne(a), f.inOne(b); at >= 0 && with >= 0 && f.running == nil {
		of = f.makeComponent(at, with).Fit
	}
	if of.Problem.Design.Columns > ratioColumns {
		return math.NaN(), math.NaN(), nil
	}
	pr := &profiler{fit: of, tied: newTied(of.free(), a, true), top: of.LogLikelihood, need: of.need()}
	pr.tied.known = slices.Clip(of.rivals)
	pr.tied.over, pr.tied.overOf = b, columnsOf(of.Problem.Design, a, b)
	if pr.start, err = of.inside(ctx); err != nil {
		return math.NaN(), math.NaN(), err
	}
	if len(of.limits) == 0 {
		pr.tied.known = append(pr.tied.known, of.atPeak())
	} else {
		pr.held = pr.tied.under(of.atLimits(), of.limits, of.moved)
		pr.held.known = []*known{of.atPeak()}
	}
	at := math.Log(ratio)
	lower, _, err := pr.end(ctx, at, -1)
	if err != nil {
		return math.NaN(), math.NaN(), err
	}
	upper, _, err := pr.end(ctx, at, 1)
	return math.Exp(lower), math.Exp(upper), err
}

// inOne is the component that a quantity has to do with; −1 where that is none, or
// more than one.
func (f *Fit) inOne(q *likelihood.Quantity) int {
	of := f.components().of
	at := of[q.Means[0].Class]
	for i := range q.Means {
		if of[q.Means[i].Class] != at {
			return -1
		}
	}
	return at
}

// columnsOf are the columns that quantities have to do with.
func columnsOf(d *likelihood.Design, qs ...*likelihood.Quantity) (out []int) {
	for _, q := range qs {
		for i := range q.Means {
			for _, c := range q.Means[i].Factors {
				for _, e := range d.Slots[q.Means[i].Class][c.Slot] {
					out = append(out, e.Column)
				}
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
