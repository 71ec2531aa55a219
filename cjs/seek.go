package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/likelihood"
)

// profiler finds where the maximum of the log-likelihood with a quantity given,
// all else free, falls to need: the ends of the quantity's interval.
type profiler struct {
	fit  *Fit
	tied *tied
	need float64
	top  float64 // the log-likelihood at its maximum
	// start is a point inside the interval, with no coefficient at infinity.
	start []float64
	// held is the same with the limits of the fit kept; nil where it has none.
	held *tied
	// accused is a point met that beats the fit.
	accused []float64
}

// sought is the limit on one side, by the quick way or else the sure one.
func (pr *profiler) sought(ctx context.Context, t *tied, from solution, side float64) (solution, bool, error) {
	s, ok, err := pr.straight(ctx, t, from.x, pr.own(side))
	if err == nil && !ok {
		if s.x != nil {
			// The quick way went out of the scale: is the end open?
			last := from
			last.x = s.x
			if s, ok, err = pr.bracketed(ctx, t, last, side); err != nil || ok && s.open {
				return s, ok, err
			}
		}
		s, ok, err = pr.bracketed(ctx, t, from, side)
	}
	return s, ok, err
}

// aim is a limit of the quantity of a profiler, to one side of begin (NaN: of
// where the way starts).
type aim struct {
	side, begin float64
	// toEdges: what goes to 0 or 1 on the way is put there.
	toEdges bool
	// lettings is how often something put there was let go again.
	lettings int
	// step is how much the log-likelihood still has to fall, from the constrained
	// maximum with the quantity as it is, and how far the quantity has to go.
	step func(t *tied, s *tiedStep) (left, d float64)
}

// own is the limit at which the log-likelihood has fallen to need.
func (pr *profiler) own(side float64) aim {
	return aim{side, math.NaN(), true, 0, func(t *tied, s *tiedStep) (left, d float64) {
		left = t.p.F + s.gain/2 - pr.need
		return left, s.toLimit(left, side)
	}}
}

// mostLettings bounds how often what was put at 0 or 1 is let go on the way.
const mostLettings = 3

// straight goes for the limit by Newton's method on the equations of the
// constrained maximum and of the limit together. It needs a few steps where the
// log-likelihood is nearly a parabola, and gives up soon where it is not.
func (pr *profiler) straight(ctx context.Context, t *tied, from []float64, to aim) (solution, bool, error) {
	t.at(from)
	begin := to.begin
	if math.IsNaN(begin) {
		begin = t.q.F
	}
	beyond := func(v float64) bool { return (v-begin)*to.side > 0 }
	gain, tails := math.Inf(1), 0
	const longest = 2
	for range 15 {
		if err := ctx.Err(); err != nil {
			return solution{}, false, err
		}
		s, ok := t.step()
		if !ok || !(s.curve > 0) && !(s.slope*to.side < 0) {
			return solution{}, false, nil
		}
		pr.accuse(t)
		left, d := to.step(t, &s)
		if math.Abs(left) < limitGap && s.gain < restGain && !s.raised {
			found := solution{x: t.copyX(), t: t.q.F, f: t.p.F, slope: s.slope}
			gains, inward := pr.freed(t, found)
			if inward != nil && to.toEdges && to.lettings < mostLettings {
				free := pr.letGo(t, found, inward)
				to.lettings, to.begin = to.lettings+1, begin
				return pr.straight(ctx, free, free.start, to)
			}
			return pr.far(t, found), beyond(t.q.F) && !gains, nil
		}
		// Where a probability goes to 0 or 1 on the way, each step leaves a
		// share of 1/e of what there is to gain.
		if r := s.gain / gain; r > 0.3 && r < 0.5 {
			tails++
		} else {
			tails = 0
		}
		if gain = s.gain; tails >= 3 && to.toEdges {
			if edge := pr.atEdge(t, s.still); edge != nil {
				to.begin = begin
				found, ok, err := pr.straight(ctx, edge, t.copyX(), to)
				return found, ok && beyond(found.t), err
			}
		}
		d = max(-longest, min(longest, d))
		if math.Abs(t.q.F+d) > openEnd && !t.linear {
			if left > 0 && beyond(t.q.F) {
				return solution{x: t.copyX()}, false, nil
			}
			return solution{}, false, nil
		}
		t.move(s, d)
		if math.IsNaN(t.p.F) || math.IsInf(t.p.F, 0) || math.IsNaN(t.q.F) || math.IsInf(t.q.F, 0) {
			return solution{}, false, nil
		}
	}
	return solution{}, false, nil
}

// toLimit is how far the quantity has to go for the constrained maximum, above
// the limit by so much, to fall to it: at t + d it is about above + slope d −
// curve d²/2, or a straight line where that curves up.
func (s *tiedStep) toLimit(above, side float64) float64 {
	if !(s.curve > 0) {
		return -above / s.slope
	}
	d := s.slope / s.curve
	if root := s.slope*s.slope + 2*s.curve*above; root > 0 {
		d += side * math.Sqrt(root) / s.curve
	}
	return d
}

// accuse notes a point that beats the fit.
func (pr *profiler) accuse(t *tied) {
	if t.p.F > pr.top+1e-6 && pr.accused == nil {
		pr.accused = t.copyX()
	}
}

// goingOut: near a bound that the likelihood rises to, a step of Newton's method
// moves a predictor by 1; half of it tells that from one that is settled.
const goingOut = 0.5

// atEdge is t with what is near 0 or 1, and goes there with step, held there; nil
// where nothing does.
func (pr *profiler) atEdge(t *tied, step []float64) *tied {
	s := maximum.New(pr.fit.Problem, pr.fit.data)
	s.Design, s.Limits, s.Moved = t.design, t.limits, t.moved
	return pr.heldAt(t, s.EdgeOf(t.x, maximum.Leaning, func(r maximum.Row) bool {
		return r.Out*t.design.Predictor(step, r.Class, r.Slot, r.Z) > goingOut
	}), t.limits, t.moved)
}

// heldAt is t with the limits given and that of an edge; nil where that has none.
func (pr *profiler) heldAt(t *tied, e *maximum.Edge, limits [][]float64, moved [][]maximum.Row) *tied {
	d, rows := e.Direction()
	if d == nil {
		return nil
	}
	limits, moved = append(slices.Clip(limits), d), append(slices.Clip(moved), rows)
	return t.under(likelihood.NewCJS(pr.fit.Problem.Design.WithLimits(limits), pr.fit.data), limits, moved)
}

// letGo is t that holds at 0 or 1 only what goes there, from near s; columns are
// those of what does not, see freed.
func (pr *profiler) letGo(t *tied, s solution, columns []bool) *tied {
	d := pr.fit.Problem.Design
	holds := map[[2]int]bool{}
	for _, r := range slices.Concat(t.moved...) {
		holds[[2]int{r.Class, r.Slot}] = !slices.ContainsFunc(d.Slots[r.Class][r.Slot], func(e likelihood.Entry) bool { return columns[e.Column] })
	}
	search := maximum.New(pr.fit.Problem, pr.fit.data)
	free := pr.heldAt(t, search.EdgeOf(maximum.Along(d, s.x, t.limits, t.moved, nearEnd), maximum.Leaning, func(r maximum.Row) bool {
		return holds[[2]int{r.Class, r.Slot}]
	}), nil, nil)
	if free == nil {
		free = pr.tied
	}
	best := math.Inf(-1)
	for _, far := range []float64{2, 3, 4, 5, 6, 8} {
		x := maximum.Along(d, s.x, t.limits, t.moved, far)
		var p, q likelihood.Point
		free.objective().Eval(x, 0, &p)
		free.evalQuantity(x, 0, &q)
		if v := p.F - s.slope*q.F; v > best {
			best, free.start = v, x
		}
	}
	return free
}

// farAlong is so near to what is at 0 or 1 that no digit tells the difference.
const farAlong = 24

// far is a limit found with something held at 0 or 1, as coefficients that are
// as good as there.
func (pr *profiler) far(t *tied, s solution) solution {
	if t.limits != nil {
		s.x = maximum.Along(pr.fit.Problem.Design, s.x, t.limits, t.moved, farAlong)
	}
	return s
}

// stays tells whether a limit found with something held at 0 or 1 is one without
// that too.
func (pr *profiler) stays(t *tied, s solution) bool {
	gains, _ := pr.freed(t, s)
	return !gains
}

// freed tells whether the log-likelihood gains where what is held at 0 or 1 at a
// constrained maximum is let go: all of it together, or one predictor that has a
// column of its own. inward marks these columns; nil where there is none.
func (pr *profiler) freed(t *tied, s solution) (gains bool, inward []bool) {
	if t.limits == nil {
		return false, nil
	}
	d := pr.fit.Problem.Design
	x := maximum.Along(d, s.x, t.limits, t.moved, nearEnd)
	var p, q likelihood.Point
	pr.tied.objective().Eval(x, 1, &p)
	pr.tied.evalQuantity(x, 1, &q)
	slack := 1e-9 * (1 + math.Abs(s.f)*1e-3)
	own := t.ownColumns()
	for _, r := range slices.Concat(t.moved...) {
		es := d.Slots[r.Class][r.Slot]
		if len(es) != 1 || !own[es[0].Column] {
			continue
		}
		j := es[0].Column
		if outward := r.Out * es[0].Value * r.Z[es[0].Number] * (p.G[j] - s.slope*q.G[j]); outward < -slack {
			if inward == nil {
				inward = make([]bool, t.n)
			}
			inward[j] = true
		}
	}
	return inward != nil || p.F-s.f-s.slope*(q.F-s.t) > slack, inward
}

// ownColumns are those with no part in what is not held at 0 or 1.
func (t *tied) ownColumns() []bool {
	own := slices.Repeat([]bool{true}, t.n)
	for g, slots := range t.design.Slots {
		for a, es := range slots {
			for _, e := range es {
				own[e.Column] = own[e.Column] && t.design.Links[g][a].Kind == likelihood.Fixed
			}
		}
	}
	return own
}

// nearEnd: so near the bound the log-likelihood is as good as linear in the
// distance.
const nearEnd = 12

// bracketed goes outwards from constrained maximum to constrained maximum until
// one is below the limit, and then between the two.
func (pr *profiler) bracketed(ctx context.Context, t *tied, begin solution, side float64) (solution, bool, error) {

	t.pressings = 0
	t.at(begin.x)
	inner, ok, err := t.maximum(ctx, begin, t.q.F)
	if err != nil || !ok {
		return solution{}, false, err
	}
	fall := func(s solution) float64 { return math.Sqrt(max(0, pr.top-s.f)) - math.Sqrt(pr.top-pr.need) }
	if fall(inner) > 0 {
		return solution{}, false, nil
	}
	var outer *solution
	stride := 0.5
	for range mostMaxima {
		pr.accuse(t)
		if math.Abs(inner.f-pr.need) < roughGap {
			return pr.far(t, inner), pr.stays(t, inner), nil
		}
		var next float64
		if outer == nil {
			if !t.linear && pr.open(inner, side) {
				return pr.atTheEnd(ctx, t, inner, side)
			}
			next = inner.t + side*min(stride, pr.reach(inner))
			if !t.linear {
				next = max(-openEnd, min(openEnd, next))
			}
		} else {
			// The root of the fall is nearly straight: a secant, kept well
			// inside.
			share := fall(inner) / (fall(inner) - fall(*outer))
			next = inner.t + min(0.9, max(0.1, share))*(outer.t-inner.t)
			if math.Abs(outer.t-inner.t) < 1e-7 {
				// The profile steps down here, from one kind of maximum to
				// another.
				return pr.far(t, *outer), pr.stays(t, *outer), nil
			}
		}
		s, ok, err := t.maximum(ctx, inner, next)
		switch {
		case err != nil:
			return solution{}, false, err
		case !ok:
			// Too far at once, or nothing is there.
			if stride /= 4; stride < 1e-3 || outer != nil {
				return solution{}, false, nil
			}
		case fall(s) > 0:
			outer = &s
			if math.Abs(s.f-pr.need) < roughGap {
				return pr.far(t, s), pr.stays(t, s), nil
			}
		default:
			inner = s
			if outer == nil {
				stride *= 2
			}
		}
	}
	return solution{}, false, nil
}

// atTheEnd is the constrained maximum as near to 0 or 1 as can be told, or else
// the last before it.
func (pr *profiler) atTheEnd(ctx context.Context, t *tied, last solution, side float64) (solution, bool, error) {
	s := last
	if side*last.t < openEnd-1e-6 {
		end, ok, err := t.maximum(ctx, last, side*openEnd)
		if err != nil {
			return s, false, err
		}
		if ok {
			s = end
		}
	}
	s = pr.far(t, s)
	s.open = true
	return s, true, nil
}

// reach is how far from a constrained maximum the limit should lie: a little
// beyond where the root of the fall would be were it straight.
func (pr *profiler) reach(s solution) float64 {
	root := math.Sqrt(max(0, pr.top-s.f))
	if root < 1e-3 {
		return math.Inf(1)
	}
	return 1.1 * (math.Sqrt(pr.top-pr.need) - root) * 2 * root / math.Abs(s.slope)
}

// open tells whether the constrained maximum stays above the limit all the way
// to 0 or 1: the end of the scale is reached, or what it still loses, falling
// off as it does with the distance from 0 or 1 itself, is far too little.
func (pr *profiler) open(s solution, side float64) bool {
	out := s.t * side
	return out >= openEnd-1e-6 || out > openEnd/2 && s.f-pr.need > 10*math.Abs(s.slope)
}

// free is the log-likelihood of the data under the design without limits.
func (f *Fit) free() *likelihood.CJS {
	if f.unlimited == nil {
		f.unlimited = likelihood.NewCJS(f.Problem.Design, f.data)
	}
	return f.unlimited
}

// atLimits is the log-likelihood of the data under the design at its limits.
func (f *Fit) atLimits() *likelihood.CJS {
	if f.limited == nil {
		f.limited = likelihood.NewCJS(f.design, f.data)
	}
	return f.limited
}

// atPeak is the log-likelihood at the maximum, under the design at its limits
// where it has some.
func (f *Fit) atPeak() *known {
	if f.peak == nil {
		f.peak = &known{x: f.X}
		f.atLimits().Eval(f.X, 2, &f.peak.p)
	}
	return f.peak
}
