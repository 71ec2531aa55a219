package maximum

import (
	"cmp"
	"context"
	"math"
	"slices"

	"example.org/unseen/likelihood"
)

// Level is a point where the likelihood is as high as at its maximum, although a
// predictor that is at 0 or 1 there, that of Row (or several, the last of which that
// is), is not. Design holds that, or what is at its bound still.
type Level struct {
	Row    Row
	Design *likelihood.Design
	X      []float64
	moved  [][]Row // to their bounds, of the others
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
	var free []Row
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
			found, f, err = s.apart(ctx, []Row{r}, inside, start)
		} else {
			found, f, err = s.letGo(ctx, r, end, moved, start)
		}
		if err != nil {
			return nil, err
		}
		// A higher point is another maximum, not this one's level.
		if p := found.Design.Prob(found.X, r.Class, r.Slot, r.Z); math.Abs(f-top) < boundLoss && min(p.P, p.Q) > inside/10 {
			out = append(out, found)
			if own {
				free = append(free, r)
			}
		}
	}
	if len(free) > 0 {
		slices.SortStableFunc(free, func(a, b Row) int { return cmp.Compare(a.Slot, b.Slot) })
		if all, ok, err := s.together(ctx, top, free, start); ok || err != nil {
			return append(out, all), err
		}
	}
	return out, nil
}

// apart is the maximum, and its log-likelihood, with rows, and all that has the column
// of one of them alone, held so far inside their bounds; others may go to theirs.
func (s *Search) apart(ctx context.Context, rows []Row, far float64, start []float64) (Level, float64, error) {
	p := *s.problem
	d := *p.Design
	p.Design = &d
	d.Links = slices.Clone(d.Links)
	for g := range d.Links {
		d.Links[g] = slices.Clone(d.Links[g])
		for a := range d.Links[g] {
			for _, r := range rows {
				if !slices.Equal(d.Slots[g][a], d.Slots[r.Class][r.Slot]) {
					continue
				}
				value := far
				if s.problem.Design.Links[r.Class][r.Slot].At(r.Out).P > 0.5 {
					value = 1 - far
				}
				d.Links[g][a] = likelihood.Link{Kind: likelihood.Fixed, Value: value}
			}
		}
	}
	held := New(&p, s.data)
	held.Run(ctx, start)
	return Level{rows[len(rows)-1], held.Design, held.Climb.X, held.Moved}, held.Climb.P.F, held.Climb.Err
}

// together is a level with as many rows let go at once as can be, those that others
// let go take to their bounds included: a share that passed is 0 as long as one of its
// survivals is, though none of them is known to be. ok is false where no two can.
func (s *Search) together(ctx context.Context, top float64, rows []Row, start []float64) (found Level, ok bool, err error) {
	slots := s.problem.Design.Slots
	var held []Row
	for k := 0; k < len(rows); k++ {
		try := append(slices.Clip(held), rows[k])
		l, f, err := s.apart(ctx, try, 0.5, start)
		if err != nil {
			return found, false, err
		}
		if math.Abs(f-top) >= boundLoss {
			continue
		}
		found, held = l, try
		for _, r := range slices.Concat(l.moved...) {
			es := slots[r.Class][r.Slot]
			known := slices.ContainsFunc(rows, func(o Row) bool { return slices.Equal(slots[o.Class][o.Slot], es) })
			if len(es) == 1 && !known && !s.problem.Design.Varies(r.Class, r.Slot) {
				rows = append(rows, r)
			}
		}
		// Survivals first: it is they whose product matters.
		slices.SortStableFunc(rows[k+1:], func(a, b Row) int { return cmp.Compare(a.Slot, b.Slot) })
	}
	return found, len(held) > 1, nil
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
	return Level{Row: r, Design: d, X: c.X}, c.P.F, c.Err
}
