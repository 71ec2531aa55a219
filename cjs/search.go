package cjs

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"example.org/unseen/likelihood"
)

// thinning: with more fish than this kept one by one, the first climb sees
// only a share of them.
const thinning = 1 << 15

// search finds the best maximum from all starts.
func (f *Fit) search(ctx context.Context) (*search, error) {
	p := f.Problem
	starts := [][]float64{f.Options.Start}
	if f.Options.Start == nil {
		starts = append([][]float64{startValues(p)}, otherStarts(p)...)
		if f.Options.EstimatesOnly {
			starts = starts[:1]
		}
	}
	if thin := f.data.Thin(thinning); thin != nil {
		// Choose among the starts on a share of the fish, then climb from
		// the best with all.
		best, err := f.bestOf(ctx, thin, starts)
		if err != nil {
			return nil, err
		}
		f.OtherMaximum = math.NaN()
		starts = [][]float64{best.climb.x}
	}
	return f.bestOf(ctx, f.data, starts)
}

// sameMaximum: log-likelihoods nearer than this belong to one maximum.
const sameMaximum = 1e-6

const (
	// manyStarts: of more starts than this only those that a few steps bring
	// farthest are followed to the end.
	manyStarts = 12
	fewSteps   = 6
)

// promising are the first of the starts, and of the others those that a few
// steps bring farthest, manyStarts in all.
func (f *Fit) promising(ctx context.Context, data *likelihood.Data, starts [][]float64) [][]float64 {
	if len(starts) <= manyStarts {
		return starts
	}
	type tried struct {
		x []float64
		f float64
	}
	o := likelihood.NewCJS(f.Problem.Design, data)
	const sure = 3
	var others []tried
	for _, x := range starts[sure:] {
		c := maximise(ctx, o, x, func(c *climb) bool { return c.iterations >= fewSteps })
		if v := c.p.F; !math.IsNaN(v) && !math.IsInf(v, 0) {
			others = append(others, tried{c.x, v})
		}
	}
	slices.SortStableFunc(others, func(a, b tried) int { return cmp.Compare(b.f, a.f) })
	out := slices.Clone(starts[:sure])
	last := math.Inf(1)
	for _, t := range others {
		// Those that came to the same likelihood are on the same hill.
		if last-t.f < sameMaximum {
			continue
		}
		last = t.f
		if out = append(out, t.x); len(out) == manyStarts {
			break
		}
	}
	return out
}

func (f *Fit) bestOf(ctx context.Context, data *likelihood.Data, starts [][]float64) (*search, error) {
	var best *search
	f.maxima = nil
	for _, x := range f.promising(ctx, data, starts) {
		s := newSearch(f.Problem, data)
		s.run(ctx, x)
		if s.climb.err != nil {
			return nil, s.climb.err
		}
		if v := s.climb.p.F; math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		f.maxima = append(f.maxima, maximum{along(f.Problem.Design, s.climb.x, s.limits, s.moved, farEnough), s.climb.p.F})
		if best == nil {
			best = s
			continue
		}
		// Of equal maxima the first stays; one climb that ended short of its
		// maximum is no maximum of its own.
		switch d := s.climb.p.F - best.climb.p.F; {
		case d > sameMaximum:
			if best.climb.distance < convergedSE {
				f.other(best.climb.p.F)
			}
			best = s
		case d < -sameMaximum && s.climb.distance < convergedSE:
			f.other(s.climb.p.F)
		}
	}
	if best == nil {
		return nil, fmt.Errorf("no probability could be given to the data under survival %s, detection %s: a value held in the study or a linear link contradicts what was seen", f.Problem.TermsOf("survival"), f.Problem.TermsOf("detection"))
	}
	return best, nil
}

// maximum is where a climb ended, with nothing far out, and the log-likelihood it
// came to.
type maximum struct {
	x []float64
	f float64
}

func (f *Fit) other(logLikelihood float64) {
	if v := -2 * logLikelihood; math.IsNaN(f.OtherMaximum) || v < f.OtherMaximum {
		f.OtherMaximum = v
	}
}
