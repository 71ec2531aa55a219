package maximum

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/likelihood"
)

// Level is a point where the likelihood is as high as at its maximum, although a
// predictor that is at 0 or 1 there, that of Row, is not. Design holds that, or what
// is at its bound still.
type Level struct {
	Row    Row
	Design *likelihood.Design
	X      []float64
}

const (
	// nearEnd: so near a bound, exp(−nearEnd), the log-likelihood is as good as
	// linear in the distance. Where leaving the bound costs more than this there,
	// as for a single fish, the maximum is at the bound alone.
	nearEnd   = 16
	levelLoss = 1e-9
	// inside is how far from its bound a probability is tried; one that is less
	// than a tenth of this away may be on its way there.
	inside = 0.1
)

// Levels are the points as high as the maximum, of the log-likelihood top, that
// has rows moved to 0 or 1, with one of these let go. Where a survival and a
// detection are both 0 because no fish was ever seen, either may be anything as
// long as the other is 0: neither is known. x are the coefficients at the maximum,
// start a point at which nothing is far out. Where all that the design can tell is
// told at x, what costs likelihood to leave there is not tried. Predictors that
// differ between the fish of a class are not let go.
func (s *Search) Levels(ctx context.Context, x []float64, top float64, limits [][]float64, moved [][]Row, start []float64, told bool) ([]Level, error) {
	d := s.problem.Design
	end := Along(d, x, limits, moved, nearEnd)
	var near likelihood.Point
	likelihood.NewCJS(d, s.data).Eval(end, 1, &near)
	var out []Level
	var tried [][]likelihood.Entry
	for _, r := range slices.Concat(moved...) {
		es := d.Slots[r.Class][r.Slot]
		known := slices.ContainsFunc(tried, func(o []likelihood.Entry) bool { return slices.Equal(o, es) })
		if d.Varies(r.Class, r.Slot) || known {
			continue
		}
		tried = append(tried, es)
		own := len(es) == 1
		if own && told && r.Out*es[0].Value*near.G[es[0].Column] > levelLoss {
			continue
		}
		var found Level
		var f float64
		var err error
		if own {
			found, f, err = s.apart(ctx, r, start)
		} else {
			found, f, err = s.letGo(ctx, r, end, moved, start)
		}
		if err != nil {
			return nil, err
		}
		// A higher point is another maximum, not this one's level.
		if p := found.Design.Prob(found.X, r.Class, r.Slot, r.Z); math.Abs(f-top) < boundLoss && min(p.P, p.Q) > inside/10 {
			out = append(out, found)
		}
	}
	return out, nil
}

// apart is the maximum, and its log-likelihood, with r, and all that has its column
// alone, held a little inside its bound; others may go to theirs.
func (s *Search) apart(ctx context.Context, r Row, start []float64) (Level, float64, error) {
	p := *s.problem
	d := *p.Design
	p.Design = &d
	value := inside
	if d.Links[r.Class][r.Slot].At(r.Out).P > 0.5 {
		value = 1 - inside
	}
	d.Links = slices.Clone(d.Links)
	for g := range d.Links {
		d.Links[g] = slices.Clone(d.Links[g])
		for a := range d.Links[g] {
			if slices.Equal(d.Slots[g][a], d.Slots[r.Class][r.Slot]) {
				d.Links[g][a] = likelihood.Link{Kind: likelihood.Fixed, Value: value}
			}
		}
	}
	held := New(&p, s.data)
	held.Run(ctx, start)
	return Level{r, held.Design, held.Climb.X}, held.Climb.P.F, held.Climb.Err
}

// letGo is the maximum, and its log-likelihood, with of the rows moved, at their
// bounds at end, all held there but r and what must move with it.
func (s *Search) letGo(ctx context.Context, r Row, end []float64, moved [][]Row, start []float64) (Level, float64, error) {
	d := s.problem.Design
	held := map[[2]int]bool{}
	for _, o := range slices.Concat(moved...) {
		held[[2]int{o.Class, o.Slot}] = !slices.Equal(d.Slots[o.Class][o.Slot], d.Slots[r.Class][r.Slot])
	}
	e := s.EdgeOf(end, Leaning, func(o Row) bool { return held[[2]int{o.Class, o.Slot}] })
	if to, _ := e.Direction(); to != nil {
		d = d.WithLimits([][]float64{to})
	}
	c := likelihood.Maximise(ctx, likelihood.NewCJS(d, s.data), start, nil)
	return Level{r, d, c.X}, c.P.F, c.Err
}
