package cjs

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// estimate is q with its standard error by the delta method and its interval, which
// may be pending; see find and settle.
func (f *Fit) estimate(ctx context.Context, q *likelihood.Quantity) (Estimate, error) {
	var p likelihood.Point
	q.Eval(f.design, f.X, 1, &p)
	return f.conclude(ctx, p.F, p.G, q, func() *likelihood.Quantity { return q })
}

// bounds is the interval of q where nothing is known of some of its fish: of the
// others their interval, these at 0 and at 1. ok is false where there are none.
func (f *Fit) bounds(ctx context.Context, q *likelihood.Quantity) (e Estimate, ok bool, err error) {
	known, share := f.running.parts(q)
	if len(known.Means) == len(q.Means) {
		return e, false, nil
	}
	e = Estimate{Value: math.NaN(), SE: math.NaN(), Low: 0, High: 1, Status: TooEarly, Method: "bounds"}
	if len(known.Means) == 0 {
		return e, true, nil
	}
	of, err := f.estimate(ctx, known)
	if err != nil {
		return e, true, err
	}
	e.Low, e.High = beside(of.Low, of.High, share)
	e.pending, e.share = of.pending, share
	return e, true, nil
}

// conclude makes the estimate of a quantity from its value and gradient. about
// names the probabilities it is made of; whole is the quantity for profiling.
func (f *Fit) conclude(ctx context.Context, value float64, grad []float64, about *likelihood.Quantity, whole func() *likelihood.Quantity) (Estimate, error) {
	e := Estimate{Value: value, SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Status: Estimated}
	s := f.about(about)
	if !s.free && !s.bounded {
		if s.held {
			e.Status = Held
		}
		return e, nil
	}
	if s.between {
		return NoEstimate(Inseparable), nil
	}
	borrowed := f.borrows(about)
	byDesign := sync.OnceValue(func() bool { return f.byDesign(whole()) })
	if f.running != nil && !f.Options.ValuesOnly {
		// No waiting tells what the design confounds.
		if !byDesign() {
			return NoEstimate(Inseparable), nil
		}
		if e, ok, err := f.bounds(ctx, whole()); ok || err != nil {
			return e, err
		}
	}
	if s.free {
		if f.scaled.Outside(grad, hereTolerance) > determined {
			return NoEstimate(Inseparable), nil
		}
		e.SE = math.Sqrt(f.variance(grad))
	}
	if s.bounded && !(e.SE > 0) {
		e.SE, e.Status = math.NaN(), Boundary
	} else if borrowed {
		e.Status = Borrowed
	}
	// A probability known no better than to 1 is one that rounding alone makes
	// look determined.
	if (len(f.limits) > 0 || e.SE > 1) && !byDesign() {
		return NoEstimate(Inseparable), nil
	}
	if f.level(value, e.SE, whole) {
		return NoEstimate(Inseparable), nil
	}
	if f.Options.ValuesOnly {
		return e, nil
	}
	rough := false
	if f.told != nil {
		var early bool
		if early, rough = f.told.early(value, grad); early {
			e = f.ask(whole(), e)
			e.Value, e.SE, e.Status = math.NaN(), math.NaN(), TooEarly
			return e, nil
		}
	}
	if f.Options.EstimatesOnly && s.bounded && !rough {
		return e, nil
	}
	byProfile := s.bounded || f.Options.Interval == "profile"
	if !byProfile && f.Options.Interval == "auto" && !f.Options.EstimatesOnly {
		beside, err := f.besideLimit(ctx, grad)
		if err != nil {
			return e, err
		}
		byProfile = borrowed || beside || doubtful(e) || f.restsOnDoubtful(grad, e.SE)
		// All of them where rows did not always work: there each is about as dear as
		// the others, and a choice between two kinds by the data covers less than
		// either (testdata/studies/interval-choice.R).
		rough = rough || f.Problem.Windowed()
	}
	if byProfile || rough {
		e.forTimes = !byProfile
		return f.ask(whole(), e), nil
	}
	e.Low, e.High, e.Method = f.interval(e.Value, e.SE)
	return e, nil
}

// letGo tells whether a predictor of the entries es is let go at a level.
func (f *Fit) letGo(es []likelihood.Entry) bool {
	return slices.ContainsFunc(f.levels, func(l maximum.Level) bool {
		return slices.Equal(es, f.Problem.Design.Slots[l.Row.Class][l.Row.Slot])
	})
}

// level tells whether a quantity has another value where the likelihood is as high
// as at its maximum.
func (f *Fit) level(value, se float64, whole func() *likelihood.Quantity) bool {
	differs := sameValue
	if se > 0 {
		differs = max(differs, sameErrors*se)
	}
	for _, l := range f.levels {
		var p likelihood.Point
		whole().Eval(l.Design, l.X, 0, &p)
		if math.Abs(p.F-value) > differs {
			return true
		}
	}
	return false
}

// Values of a probability this near to each other, or so many standard errors,
// are the same: no climb ends nearer to its maximum than that.
const sameValue, sameErrors = 1e-4, 0.01

// leastExpected: the logit interval of a share is trusted where a binomial of
// the same share and standard error would have at least this many on the rarer
// side. A binomial itself needs 10 or so (with 3 its logit interval covers 92 %,
// with 5 97 %); a share that passed is a ratio, whose standard error is smallest
// where it comes out too low, and needs more: with 10 such intervals covered 90
// to 92 % in some designs of testdata/studies/README.md, with 40 as they say.
const leastExpected = 40

// doubtful tells whether the large-sample interval of e is not to be trusted: it
// knows no more than a binomial with a few on one side.
func doubtful(e Estimate) bool {
	n := e.Value * (1 - e.Value) / (e.SE * e.SE)
	return n*min(e.Value, 1-e.Value) < leastExpected
}

// restsOn: where an estimate shares more than this of its variance with another,
// it rests on it.
const restsOn = 0.5

// restsOnDoubtful tells whether a quantity of gradient grad rests on a survival
// or detection of which a logit interval is not to be trusted, as a share that
// passed does on the detection that few test passes tell.
func (f *Fit) restsOnDoubtful(grad []float64, se float64) bool {
	if f.doubtfulSlots == nil {
		f.doubtfulSlots = f.findDoubtful()
	}
	for _, with := range f.doubtfulSlots {
		r := maximum.Dot(grad, with) / se
		if r*r > restsOn {
			return true
		}
	}
	return false
}

// findDoubtful are, of every doubtful survival and detection of fish of mean
// numbers, the covariances with the coefficients over its standard error.
func (f *Fit) findDoubtful() [][]float64 {
	p := f.Problem
	n := f.Parameters
	out := [][]float64{}
	seen := map[string]bool{}
	z := maximum.Constant(p.Design.Numbers)
	grad := make([]float64, n)
	for g := range p.Classes {
		for a := range p.Layout.Slots() {
			if p.PartOf(a).Moves() || f.design.Links[g][a].Kind != likelihood.Logit {
				continue
			}
			key := fmt.Sprint(f.design.Slots[g][a])
			if seen[key] {
				continue
			}
			seen[key] = true
			pr := f.design.Prob(f.X, g, a, z)
			clear(grad)
			f.design.AddGradient(grad, pr.P*pr.U, g, a, z)
			if pr.U == 0 || f.scaled.Outside(grad, hereTolerance) > determined {
				continue
			}
			e := Estimate{Value: pr.P, SE: math.Sqrt(f.variance(grad))}
			if !(e.SE > 0) || !doubtful(e) {
				continue
			}
			with := make([]float64, n)
			for j, v := range grad {
				for i := 0; i < n && v != 0; i++ {
					with[i] += f.Covariance[i*n+j] * v / e.SE
				}
			}
			out = append(out, with)
		}
	}
	return out
}

// besideMore: a quantity is beside a limit where its variance would be larger by
// this factor were nothing held at 0 or 1.
const besideMore = 1.2

// besideLimit tells whether a quantity of gradient grad hangs on what is at 0 or
// 1: its standard error takes that as known, and is too small. That is seen from
// the information at a point near by with nothing at a bound.
func (f *Fit) besideLimit(ctx context.Context, grad []float64) (bool, error) {
	if len(f.limits) == 0 {
		return false, nil
	}
	if f.unheld == nil {
		x, err := f.inside(ctx)
		if err != nil {
			return false, err
		}
		var p likelihood.Point
		f.free().Eval(x, 2, &p)
		for i := range p.H {
			p.H[i] = -p.H[i]
		}
		f.unheld = f.Covariance
		if s, ok := linear.Decompose(p.H, f.Parameters); ok {
			f.unheld = s.Inverse(hereTolerance)
		}
	}
	return quadratic(f.unheld, grad)*f.Options.VarianceInflation > besideMore*f.variance(grad), nil
}

// borrows tells whether q rests on survival of the last reach or detection at
// the last site, one without the other, where nothing but what the model shares
// tells the two apart.
func (f *Fit) borrows(q *likelihood.Quantity) bool {
	p := f.Problem
	l := p.Layout
	last := l.Sites() - 1
	if last < 1 || ownDetection(p, last) {
		return false
	}
	s, d := l.Survival(last-1), l.Detection(l.RowCount()-1)
	for i := range q.Means {
		m := &q.Means[i]
		survival, detection := false, false
		for _, c := range m.Factors {
			survival = survival || c.Slot == s
			detection = detection || c.Slot == d
		}
		if survival && !detection && !f.heldAt(m.Class, d) || detection && !survival && !f.heldAt(m.Class, s) {
			return true
		}
	}
	return false
}

// standing is what is known of the factors of a quantity: whether some are held
// in the study, at 0 or 1, or free; and whether some are of fish between those
// that a number parts, which could be at either.
type standing struct{ held, bounded, free, between bool }

// heldAt tells whether slot a of class g is held in the study.
func (f *Fit) heldAt(g, a int) bool {
	return f.Problem.Design.Links[g][a].Kind == likelihood.Fixed
}

// about says how the factors of q stand.
func (f *Fit) about(q *likelihood.Quantity) (s standing) {
	z := maximum.Constant(f.Problem.Design.Numbers)
	for i := range q.Means {
		m := &q.Means[i]
		parts := false
		for _, c := range m.Factors {
			parts = parts || f.design.Parts(m.Class, c.Slot)
		}
		if !parts {
			f.aboutFish(m, z, &s)
			continue
		}
		for k := range m.N {
			for n := range m.Z {
				z[n+1] = m.Z[n][k]
			}
			f.aboutFish(m, z, &s)
		}
	}
	return s
}

// aboutFish adds how the factors of m stand for a fish with numbers z. Where one
// of them is 0 at its limit, or held there, the others are of no account.
func (f *Fit) aboutFish(m *likelihood.Mean, z []float64, s *standing) {
	var one standing
	for _, c := range m.Factors {
		if f.heldAt(m.Class, c.Slot) {
			if p := f.design.Prob(f.X, m.Class, c.Slot, z); c.Miss && p.Q == 0 || !c.Miss && p.P == 0 {
				s.held = true
				return
			}
			one.held = true
			continue
		}
		rate := f.design.AtLimit(m.Class, c.Slot, z)
		if rate == 0 && f.design.Links[m.Class][c.Slot].Kind != likelihood.Fixed {
			one.free = true
			continue
		}
		one.bounded = true
		if p := f.design.Prob(f.X, m.Class, c.Slot, z); c.Miss && p.Q == 0 || !c.Miss && p.P == 0 {
			s.bounded = true
			return
		}
		one.between = one.between || rate != 0 && math.Abs(rate) < 1-1e-6 && !f.settled(m.Class, c.Slot, z, rate)
	}
	s.held, s.bounded = s.held || one.held, s.bounded || one.bounded
	s.free, s.between = s.free || one.free, s.between || one.between
}

// settled tells whether a fish between those that a number parts is on the side
// it is on whatever the direction.
func (f *Fit) settled(class, slot int, z []float64, rate float64) bool {
	for _, e := range f.edges {
		if e.Settles(maximum.Row{Class: class, Slot: slot, Z: z, Out: math.Copysign(1, rate)}) {
			return true
		}
	}
	return false
}
