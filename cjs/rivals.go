package cjs

import (
	"cmp"
	"context"
	"math"
	"slices"

	"example.org/unseen/cjs/internal/maximum"
)

const (
	// mostRivals bounds the other maxima from which a limit is challenged.
	mostRivals = 4
	// thinSample and thinColumns: with more releases, or more coefficients, a
	// second hill that matters is not met any more, and would be dear to seek.
	thinSample  = 2500
	thinColumns = 40
	// veryFewFish: with no more fish than this, of which some are parted, every
	// place where a number may part them is a rival.
	veryFewFish = 100
	// rivalGap: a maximum this far below the best is no rival.
	rivalGap = 6
)

// rivals are points on other hills of the likelihood: those of other maxima, and
// where coefficients go to infinity, or may, points with none far out.
func (pr *profiler) rivals() [][]float64 {
	f := pr.fit
	// With times of passage every look costs much more.
	if f.running != nil || f.EffectiveSample > thinSample || f.Parameters > thinColumns {
		return nil
	}
	if f.rivals == nil {
		f.rivals = []*known{}
		for _, x := range pr.findRivals() {
			k := &known{x: x}
			f.free().Eval(x, 2, &k.p)
			f.rivals = append(f.rivals, k)
		}
	}
	var out [][]float64
	for _, k := range f.rivals {
		out = append(out, k.x)
	}
	return out
}

func (pr *profiler) findRivals() [][]float64 {
	var out [][]float64
	if p := pr.fit.Problem; pr.held != nil || len(p.Numbers) > 0 && len(p.ClassOf) <= veryFewFish {
		out = append(out, pr.start, maximum.StartValues(p))
	}
	seen := []float64{pr.top}
	for _, m := range pr.fit.maxima {
		if pr.top-m.F > rivalGap || slices.ContainsFunc(seen, func(v float64) bool { return math.Abs(v-m.F) < 1e-4 }) {
			continue
		}
		if seen = append(seen, m.F); len(out) < mostRivals {
			out = append(out, m.X)
		}
	}
	if p := pr.fit.Problem; pr.held != nil && len(p.ClassOf) <= veryFewFish {
		out = append(out, maximum.StepStarts(p)...)
	}
	return out
}

// fromRivals seeks a limit that the straight ways did not find from other hills
// of the likelihood.
func (pr *profiler) fromRivals(ctx context.Context, value, side float64) (s solution, ok bool, err error) {
	f := pr.fit
	var from []solution
	if pr.held != nil {
		for _, far := range []float64{maximum.FarEnough, maximum.FarEnough / 2} {
			from = append(from, solution{x: maximum.Along(f.Problem.Design, f.X, f.limits, f.moved, far)})
		}
	}
	for _, x := range pr.rivals() {
		from = append(from, solution{x: x, soft: x})
	}
	for _, begin := range from {
		s, ok, err = pr.bracketed(ctx, pr.tied, begin, side)
		if err != nil || ok && pr.tied.holds(s, value, side) {
			return s, ok, err
		}
	}
	return s, false, nil
}

// challenge looks whether the constrained maximum at a limit found is the
// highest: one on another hill may stay above the limit farther out.
func (pr *profiler) challenge(ctx context.Context, s solution, value, side float64) (solution, error) {
	t := pr.tied
	rivals := pr.rivals()
	// At the limit itself and beyond, by shares of the interval's own width.
	probes := []float64{0, 0.08, 0.16, 0.3, 0.5}
	if len(pr.fit.Problem.Numbers) == 0 || pr.fit.forCurves {
		// Of fish alike another hill is another reach at its bound: it is near.
		probes = probes[:1]
	}
	for _, beyond := range probes {
		var met []solution
		for _, x := range rivals {
			at := s.t + side*beyond*min(2, math.Abs(s.t-t.onScale(value)))
			if s.open || !t.linear && math.Abs(at) > openEnd {
				return s, nil
			}
			rival, ok, err := pr.rival(ctx, x, at, &s)
			if err != nil {
				return s, err
			}
			if !ok {
				continue
			}
			met = append(met, rival)
			if rival.f < pr.need+roughGap {
				continue
			}
			farther, ok, err := pr.bracketed(ctx, t, rival, side)
			if err != nil {
				return s, err
			}
			if ok && (farther.t-s.t)*side > 0 {
				s = farther
			}
		}
		rivals = highest(met)
	}
	return s, nil
}

// highest are the mostRivals highest of the points met, each hill once.
func highest(met []solution) [][]float64 {
	slices.SortStableFunc(met, func(a, b solution) int { return cmp.Compare(b.f, a.f) })
	var out [][]float64
	last := math.Inf(1)
	for _, m := range met {
		if last-m.f > 1e-6 && len(out) < mostRivals {
			last = m.f
			out = append(out, m.x)
		}
	}
	return out
}

// rival is the higher of the constrained maxima that are met from x straight on
// and by the shrunk way. Where an evaluation is dear, ways that lead to the limit
// are not gone to the end.
func (pr *profiler) rival(ctx context.Context, x []float64, target float64, limit *solution) (solution, bool, error) {
	t := pr.tied
	t.pressings = 0
	if p := pr.fit.Problem; p.Windowed() && len(p.Numbers) == 0 {
		t.home = limit
		defer func() { t.home = nil }()
	}
	hard, found, err := t.newton(ctx, x, target)
	if err != nil {
		return hard, false, err
	}
	soft, ok, err := t.maximum(ctx, solution{x: x, soft: x}, target)
	if ok && (!found || soft.f > hard.f) {
		return soft, true, err
	}
	return hard, found, err
}
