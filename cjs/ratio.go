package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/likelihood"
)

// takeOver turns q, the quantity at x, into the logarithm of its ratio to the other.
func (t *tied) takeOver(x []float64, order int, q *likelihood.Point) {
	b := &t.overAt
	t.over.Eval(t.design, x, order, b)
	t.toLog(order, q)
	t.toLog(order, b)
	q.F -= b.F
	if order < 1 {
		return
	}
	for _, i := range t.overOf {
		q.G[i] -= b.G[i]
		for _, j := range t.overOf {
			if order > 1 {
				q.H[i*t.n+j] -= b.H[i*t.n+j]
			}
		}
	}
}

// toLog turns a value and its derivatives into those of its logarithm.
func (t *tied) toLog(order int, q *likelihood.Point) {
	v := q.F
	if q.F = math.Log(v); order < 1 {
		return
	}
	for _, i := range t.overOf {
		q.G[i] /= v
	}
	for _, i := range t.overOf {
		for _, j := range t.overOf {
			if order > 1 {
				q.H[i*t.n+j] = q.H[i*t.n+j]/v - q.G[i]*q.G[j]
			}
		}
	}
}

// ratioColumns is of how many coefficients a ratio is profiled at most: of more it
// would take minutes.
const ratioColumns = 100

// ratioLimits are the limits of the ratio of two quantities by profile likelihood;
// NaN where one cannot be found, as where the ratio has no end.
func (f *Fit) ratioLimits(ctx context.Context, a, b *likelihood.Quantity, ratio float64) (low, high float64, err error) {
	of, notes := *f, *f.machine // what the search notes of the fit is not its answer's
	of.machine = &notes
	if at, with := f.inOne(a), f.inOne(b); at >= 0 && with >= 0 && f.running == nil {
		of = *f.makeComponent(at, with).Fit
	}
	if of.Problem.Design.Columns > ratioColumns {
		return math.NaN(), math.NaN(), nil
	}
	pr := &profiler{fit: &of, tied: newTied(of.free(), a, true), top: of.LogLikelihood, need: of.need()}
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
