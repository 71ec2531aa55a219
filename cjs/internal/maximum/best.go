// Package maximum finds the highest maximum of the likelihood of a problem, with
// what goes to 0 or 1 put there: starts, Newton climbs, directions in which
// coefficients go to infinity, and the best of several hills.
package maximum

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"example.org/unseen/cjs/internal/cores"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// thinning: with more fish than this kept one by one, the first climb sees
// only a share of them.
const thinning = 1 << 15

// FarEnough is how far from 0 the predictor of a probability at its bound
// stands where climbs to other data or under other conditions start: near the
// bound, and not so near that there is no way back.
const FarEnough = 4

// sameMaximum: log-likelihoods nearer than this belong to one maximum.
const sameMaximum = 1e-6

const (
	// manyStarts: of more starts than this only those that a few steps bring
	// Farthest are followed to the end.
	manyStarts = 12
	fewSteps   = 6
)

// promising are the first of the starts, and of the others those that a few
// steps bring Farthest, manyStarts in all.
func promising(ctx context.Context, d *likelihood.Design, data *likelihood.Data, starts [][]float64) [][]float64 {
	if len(starts) <= manyStarts {
		return starts
	}
	o := likelihood.NewCJS(d, data)
	const sure = 3
	var others []Hill
	for _, x := range starts[sure:] {
		c := likelihood.Maximise(ctx, o, x, func(c *likelihood.Climb) bool { return c.Iterations >= fewSteps })
		if v := c.P.F; !math.IsNaN(v) && !math.IsInf(v, 0) {
			others = append(others, Hill{c.X, v})
		}
	}
	slices.SortStableFunc(others, func(a, b Hill) int { return cmp.Compare(b.F, a.F) })
	out := slices.Clone(starts[:sure])
	last := math.Inf(1)
	for _, t := range others {
		// Those that came to the same likelihood are on the same hill.
		if last-t.F < sameMaximum {
			continue
		}
		last = t.F
		if out = append(out, t.X); len(out) == manyStarts {
			break
		}
	}
	return out
}

// Found is what the climbs from all starts came to.
type Found struct {
	*Search // the best
	// Hills are where the climbs ended, in the order of their starts.
	Hills []Hill
	// Other is −2 ln L of the best maximum that is another than the best; NaN:
	// none was met.
	Other float64
}

// Hill is where a climb ended, with nothing far out, and the log-likelihood it
// came to.
type Hill struct {
	X []float64
	F float64
}

// Best finds the best maximum of p to data from all starts. With very many fish
// kept one by one it chooses among the starts on a share of the fish, then
// climbs from the best with all.
func Best(ctx context.Context, p *model.Problem, data *likelihood.Data, starts [][]float64) (*Found, error) {
	if thin := data.Thin(thinning); thin != nil {
		best, err := best(ctx, p, thin, starts)
		if err != nil {
			return nil, err
		}
		starts = [][]float64{best.Climb.X}
	}
	return best(ctx, p, data, starts)
}

func best(ctx context.Context, p *model.Problem, data *likelihood.Data, starts [][]float64) (*Found, error) {
	out := &Found{Other: math.NaN()}
	starts = promising(ctx, p.Design, data, starts)
	// Climbs are taken in the order of their starts, and let go.
	climbs := make([]*Search, len(starts))
	next := 0
	var mu sync.Mutex
	cores.Each(ctx, len(starts), func() func(int) {
		return func(i int) {
			s := New(p, data)
			s.Run(ctx, starts[i])
			mu.Lock()
			defer mu.Unlock()
			for climbs[i] = s; next < len(climbs) && climbs[next] != nil; next++ {
				out.take(climbs[next])
				climbs[next] = nil
			}
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if out.Search == nil {
		return nil, fmt.Errorf("no probability could be given to the data under survival %s, detection %s: a value held in the study or a linear link contradicts what was detected", p.TermsOf("survival"), p.TermsOf("detection"))
	}
	return out, nil
}

// take takes in the climb of a further start.
func (f *Found) take(s *Search) {
	if v := s.Climb.P.F; math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	f.Hills = append(f.Hills, Hill{Along(s.problem.Design, s.Climb.X, s.Limits, s.Moved, FarEnough), s.Climb.P.F})
	if f.Search == nil {
		f.Search = s
		return
	}
	// Of equal maxima the first stays; one climb that ended short of its
	// maximum is no maximum of its own.
	switch d := s.Climb.P.F - f.Climb.P.F; {
	case d > sameMaximum:
		f.other(f.Climb)
		f.Search = s
	case d < -sameMaximum:
		f.other(s.Climb)
	}
}

// other takes a maximum that is not the best, if the climb got to it.
func (f *Found) other(c *likelihood.Climb) {
	if v := -2 * c.P.F; c.Distance < likelihood.ConvergedSE && (math.IsNaN(f.Other) || v < f.Other) {
		f.Other = v
	}
}
