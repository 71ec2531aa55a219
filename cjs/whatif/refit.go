package whatif

import (
	"context"
	"math"

	"example.org/unseen/cjs"
)

// Near 0 or 1 the likelihood is no parabola, and one Newton step can say twice
// what leaving the fish out gives. There the fish that first order names are left
// out in turn and the model is fitted again.

const (
	// nearEdge: an estimate this many standard errors from 0 or 1 is near.
	nearEdge = 2
	// mostRefits bounds how many fish are left out in turn.
	mostRefits = 40
)

// atEdge tells whether a survival, detection or passed share of f is at or near
// 0 or 1.
func atEdge(f *cjs.Fit) bool {
	// An inflation changes no estimate.
	near := nearEdge / math.Sqrt(f.Options.VarianceInflation)
	for _, w := range f.Watched() {
		if w.Status == cjs.Boundary || w.SE > 0 && min(w.Value, 1-w.Value) < near*w.SE {
			return true
		}
	}
	return false
}

// pull is a passed share and what of a fish moves it.
type pull struct {
	site   int
	share  float64
	fish   float64   // newly released above the site
	weight []float64 // the share's gradient times the inverse information
	known  bool
}

// refit sets the moves of x to what the model fitted without one fish of its
// record says. They stay where that fit does not converge.
func (x *Influence) refit(ctx context.Context, f *cjs.Fit, pulls []pull) error {
	p := f.Problem
	n := p.Histories.Len()
	of := make([]int, 0, n)
	for i := range n {
		if i != x.Record || p.Histories.Weight(i) > 1 {
			of = append(of, i)
		}
	}
	h := p.Histories.Pick(of)
	if len(of) == n {
		h.Count[x.Record]--
	}
	without, err := p.WithHistories(h, of, p.TestPasses)
	if err != nil {
		return err
	}
	g, err := cjs.New(ctx, without, cjs.Options{EstimatesOnly: true})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil || g.Verdict != cjs.Converged {
		return nil
	}
	for k := range pulls {
		x.By[k] = math.NaN()
		for j := range g.Passed {
			if row := &g.Passed[j]; len(row.Of) == 0 && row.Site == pulls[k].site {
				x.By[k] = row.PassedShare.Value - pulls[k].share
			}
		}
	}
	return nil
}
