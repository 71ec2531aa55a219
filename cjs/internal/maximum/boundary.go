package maximum

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

func New(p *model.Problem, data *likelihood.Data) *Search {
	return &Search{problem: p, data: data, Design: p.Design, reach: numberRange(p)}
}

// NearBound: a probability this near to 0 or 1 is tried at the bound itself.
const NearBound = 1e-4

// Leaning: where a climb does not end, a probability this near to 0 or 1 is
// tried at the bound too. It goes there slowly where the numbers of fish that
// differ in their fate hardly differ.
const Leaning = 0.02

// Where not all that is near can go, what is nearer by this factor is tried, down
// to leastNear.
const nearer, leastNear = 1e-2, 1e-14

// slowClimb: a maximum that is there is found in fewer steps.
const slowClimb = 25

// boundLoss: a maximum this little above the likelihood at a bound is taken to
// be there; no digit shows the difference, and its curvature tells nothing.
const boundLoss = 1e-7

// Run maximises from x.
func (s *Search) Run(ctx context.Context, x []float64) {
	near, slow := false, false
	c := likelihood.Maximise(ctx, likelihood.NewCJS(s.Design, s.data), x, func(c *likelihood.Climb) bool {
		switch {
		case !near && c.Distance < 0.3 && s.anyNear(c.X, NearBound):
			// Near the top, with a probability near its bound: try the bound.
			// Not again and again, should the bound turn out to be wrong.
			near = true
			return true
		case !slow && c.Iterations >= slowClimb:
			slow = true
			return true
		}
		return false
	})
	s.take(c)
	if c.Err != nil || s.ToBounds(ctx, NearBound) || slow && s.ToBounds(ctx, Leaning) {
		return
	}
	if !near && !slow {
		return
	}
	var t tail
	tailing := false
	s.take(likelihood.Maximise(ctx, likelihood.NewCJS(s.Design, s.data), c.X, func(c *likelihood.Climb) bool {
		tailing = t.grows(c.Distance * c.Distance)
		return tailing
	}))
	if s.Climb.Err == nil && s.ToBounds(ctx, NearBound) {
		return
	}
	if tailing && s.Climb.Err == nil {
		s.take(likelihood.Maximise(ctx, likelihood.NewCJS(s.Design, s.data), s.Climb.X, nil))
		if s.Climb.Err == nil && s.ToBounds(ctx, NearBound) {
			return
		}
	}
	if s.Climb.Err == nil && !(s.Climb.Distance < likelihood.ConvergedSE) {
		s.ToBounds(ctx, Leaning)
	}
}

// tail tells a climb that goes to infinity: where a probability goes to 0 or 1
// each step leaves a share of 1/e of what there is to gain.
type tail struct {
	gain  float64
	steps int
}

// grows takes what there is to gain after a step.
func (t *tail) grows(gain float64) bool {
	if r := gain / t.gain; r > 0.3 && r < 0.5 {
		t.steps++
	} else {
		t.steps = 0
	}
	t.gain = gain
	return t.steps >= 3
}

func (s *Search) take(c *likelihood.Climb) {
	s.Climb = c
	s.Iterations += c.Iterations
}

// ToBounds puts at their bounds what is within tol of them and can go there,
// and fits the rest; it keeps the result, and says true, where that is the
// limit of the likelihood.
func (s *Search) ToBounds(ctx context.Context, tol float64) bool {
	tried := 0
	for ; tol >= leastNear; tol *= nearer {
		e := s.EdgeAt(s.Climb.X, tol)
		d, rows := e.Direction()
		switch {
		case d == nil:
			return false
		case tried > 0 && len(rows) >= tried:
			// The same again.
		case s.toBounds(ctx, e, d, rows, tol):
			return true
		case len(rows) == 1 || !(s.Climb.Distance < likelihood.ConvergedSE):
			// On the way up the others may yet leave their bounds.
			return false
		default:
			// One that is near its bound and stays there keeps the others from
			// theirs, to which they have come nearer.
			tried = len(rows)
		}
	}
	return false
}

// toBounds is [Search.ToBounds] of the rows of an edge, in direction d.
func (s *Search) toBounds(ctx context.Context, e *Edge, d []float64, rows []Row, tol float64) bool {
	free := s.Climb
	inner := *s
	inner.Edges = append(slices.Clip(s.Edges), e)
	inner.Limits = append(slices.Clip(s.Limits), d)
	inner.Moved = append(slices.Clip(s.Moved), rows)
	inner.Design = s.problem.Design.WithLimits(inner.Limits)
	held := likelihood.Maximise(ctx, likelihood.NewCJS(inner.Design, s.data), free.X, nil)
	inner.take(held)
	s.Iterations = inner.Iterations
	if held.Err != nil || !(held.P.F >= free.P.F-boundLoss) || !inner.attained() {
		return false
	}
	// With these held, others may run to their bounds.
	inner.ToBounds(ctx, tol)
	*s = inner
	return true
}

// attained tells whether the likelihood of the design without limits rises to
// that at the limits as the coefficients go there.
func (s *Search) attained() bool {
	o := likelihood.NewCJS(s.problem.Design, s.data)
	top := s.Climb.P.F
	slack := boundLoss + 1e-10*math.Abs(top)
	previous := math.Inf(-1)
	for _, far := range []float64{18, 24} {
		var p likelihood.Point
		o.Eval(s.towards(far), 0, &p)
		if !(p.F >= previous-slack) || p.F > top+slack {
			return false
		}
		previous = p.F
	}
	return previous > top-1e-6-slack
}

// towards is the coefficients moved along the limits; see [Along].
func (s *Search) towards(far float64) []float64 {
	return Along(s.problem.Design, s.Climb.X, s.Limits, s.Moved, far)
}

// predictorAt is the predictor at which a probability is exp(−far) from the bound
// that lies on the side out of its predictor.
func predictorAt(l likelihood.Link, out, far float64) float64 {
	switch {
	case l.Kind == likelihood.Logit:
		return out * far
	case out > 0:
		return math.Log(far / l.Length)
	default:
		return -far - math.Log(l.Length)
	}
}

// Along moves x in the directions of limits until every predictor that each
// moves is that far, on the scale of a logit, on its side.
func Along(d *likelihood.Design, x []float64, limits [][]float64, moved [][]Row, far float64) []float64 {
	y := append([]float64(nil), x...)
	// The last direction is the slowest: those before it undo what it does to
	// what they move.
	for i := len(limits) - 1; i >= 0; i-- {
		var t float64
		row := make([]float64, d.Columns)
		for n, r := range moved[i] {
			clear(row)
			d.AddGradient(row, 1, r.Class, r.Slot, r.Z)
			target := r.Out * predictorAt(d.Links[r.Class][r.Slot], r.Out, far)
			if need := (target - r.Out*Dot(row, y)) / (r.Out * Dot(row, limits[i])); n == 0 || need > t {
				t = need
			}
		}
		for j, v := range limits[i] {
			y[j] += t * v
		}
	}
	return y
}

// anyNear tells whether a probability of some fish may be within tol of 0 or 1.
func (s *Search) anyNear(x []float64, tol float64) bool {
	for g := range s.Design.Slots {
		for a := range s.Design.Slots[g] {
			link := s.Design.Links[g][a]
			if !link.Bounded() || len(s.Design.Slots[g][a]) == 0 || !s.concerns(g, a) {
				continue
			}
			if low, high := s.predictors(x, g, a); outward(link, low, tol) != 0 || outward(link, high, tol) != 0 {
				return true
			}
		}
	}
	return false
}

// numberRange is the range of every number in every class.
func numberRange(p *model.Problem) [][2][]float64 {
	n := p.Design.Numbers
	out := make([][2][]float64, len(p.Classes))
	for g := range out {
		out[g][0], out[g][1] = make([]float64, n), make([]float64, n)
		for k := 1; k < n; k++ {
			out[g][0][k], out[g][1][k] = math.Inf(1), math.Inf(-1)
		}
	}
	for k, z := range p.Z {
		for f, v := range z {
			if g := p.ClassOf[f]; g >= 0 {
				r := &out[g]
				r[0][k+1] = min(r[0][k+1], v)
				r[1][k+1] = max(r[1][k+1], v)
			}
		}
	}
	return out
}
