package cjs

import (
	"context"
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// nearBound: a probability this near to 0 or 1 is tried at the bound itself.
const nearBound = 1e-4

// bound is a slot of a class held at 0 or 1 because the likelihood rises all
// the way there.
type bound struct {
	class, slot int
	value       float64
}

// search is a maximisation that treats bounds as such: a probability that runs
// to 0 or 1 is put there, and the others are fitted with it held.
type search struct {
	problem *model.Problem
	data    *likelihood.Data
	design  *likelihood.Design // with bounds as fixed links
	bounds  []bound
	climb   *climb
	// iterations counts all steps of all climbs.
	iterations int
	reach      [][2][]float64 // class → lowest and highest of each number
}

func newSearch(p *model.Problem, data *likelihood.Data) *search {
	return &search{problem: p, data: data, design: p.Design, reach: numberRange(p)}
}

// run maximises from x.
func (s *search) run(ctx context.Context, x []float64) {
	tried := 0
	c := maximise(ctx, likelihood.NewCJS(s.design, s.data), x, func(c *climb) bool {
		// Near the top, with a probability near its bound: try the bound.
		// Not again and again, should the bound turn out to be wrong.
		if c.distance < 0.3 && tried == 0 && len(s.candidates(c.x)) > 0 {
			tried++
			return true
		}
		return false
	})
	s.climb = c
	s.iterations += c.iterations
	if c.err != nil || s.toBounds(ctx) {
		return
	}
	if tried > 0 {
		c = maximise(ctx, likelihood.NewCJS(s.design, s.data), c.x, nil)
		s.climb = c
		s.iterations += c.iterations
		if c.err == nil {
			s.toBounds(ctx)
		}
	}
}

// toBounds puts the candidates at their bounds and fits the rest; it keeps the
// result, and says true, where that is the limit of the likelihood.
func (s *search) toBounds(ctx context.Context) bool {
	free := s.climb
	found := s.candidates(free.x)
	if len(found) == 0 {
		return false
	}
	design := s.design.WithLinks(s.linksWith(found))
	held := maximise(ctx, likelihood.NewCJS(design, s.data), free.x, nil)
	s.iterations += held.iterations
	if held.err != nil || !(held.p.F >= free.p.F-1e-9*math.Abs(free.p.F)) {
		return false
	}
	if !s.attained(found, design, held) {
		return false
	}
	inner := &search{problem: s.problem, data: s.data, design: design, bounds: append(append([]bound(nil), s.bounds...), found...), climb: held, reach: s.reach, iterations: s.iterations}
	// With these held, others may run to their bounds.
	inner.toBounds(ctx)
	*s = *inner
	return true
}

func (s *search) linksWith(found []bound) [][]likelihood.Link {
	links := make([][]likelihood.Link, len(s.design.Links))
	copy(links, s.design.Links)
	cloned := make([]bool, len(links))
	for _, b := range found {
		if !cloned[b.class] {
			links[b.class] = append([]likelihood.Link(nil), links[b.class]...)
			cloned[b.class] = true
		}
		links[b.class][b.slot] = likelihood.Link{Kind: likelihood.Fixed, Value: b.value}
	}
	return links
}

// candidates are the slots whose probability is near 0 or 1 for all fish of
// their class.
func (s *search) candidates(x []float64) []bound {
	var out []bound
	d := s.design
	for g := range d.Slots {
		for a := range d.Slots[g] {
			kind := d.Links[g][a].Kind
			if kind != likelihood.Logit && kind != likelihood.Rate || len(d.Slots[g][a]) == 0 {
				continue
			}
			low, high := s.predictors(x, g, a)
			p, q := d.Links[g][a].At(low), d.Links[g][a].At(high)
			switch {
			case p.Q < nearBound && q.Q < nearBound:
				out = append(out, bound{g, a, 1})
			case p.P < nearBound && q.P < nearBound:
				out = append(out, bound{g, a, 0})
			}
		}
	}
	return out
}

// predictors are bounds on the predictor of a slot over the fish of a class.
func (s *search) predictors(x []float64, g, a int) (low, high float64) {
	for _, e := range s.design.Slots[g][a] {
		v := e.Value * x[e.Column]
		if e.Number == 0 {
			low += v
			high += v
			continue
		}
		r := s.reach[g]
		u, w := v*r[0][e.Number], v*r[1][e.Number]
		low += min(u, w)
		high += max(u, w)
	}
	return low, high
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

// attained tells whether the likelihood with the found slots at their bounds
// is what it tends to as their predictors run to infinity with all others left
// alone: there must be a direction that does so, and the likelihood must rise
// along it.
func (s *search) attained(found []bound, held *likelihood.Design, c *climb) bool {
	previous := math.Inf(-1)
	for _, far := range []float64{18, 24} {
		x, ok := s.outward(found, held, c.x, far)
		if !ok {
			return false
		}
		var p likelihood.Point
		likelihood.NewCJS(s.design, s.data).Eval(x, 0, &p)
		slack := 1e-10 * math.Abs(c.p.F)
		if !(p.F >= previous-slack) || p.F > c.p.F+slack {
			return false
		}
		previous = p.F
	}
	return true
}

// outward moves x so that the predictors of the found slots are at far from
// zero, towards their bounds, and those of all other slots stay.
func (s *search) outward(found []bound, held *likelihood.Design, x []float64, far float64) ([]float64, bool) {
	n := s.design.Columns
	a := make([]float64, n*n)
	b := make([]float64, n)
	// A line asks that the part of a predictor that goes with one number
	// changes by target.
	type line struct {
		class, slot, number int
		target              float64
	}
	var lines []line
	add := func(g, slot, number int, target float64) {
		for _, e := range s.design.Slots[g][slot] {
			if e.Number != number {
				continue
			}
			b[e.Column] += e.Value * target
			for _, f := range s.design.Slots[g][slot] {
				if f.Number == number {
					a[e.Column*n+f.Column] += e.Value * f.Value
				}
			}
		}
		lines = append(lines, line{g, slot, number, target})
	}
	z := make([]float64, s.design.Numbers)
	z[0] = 1
	for _, f := range found {
		target := far
		if (f.value == 0) != (s.design.Links[f.class][f.slot].Kind == likelihood.Rate) {
			target = -far
		}
		add(f.class, f.slot, 0, target-s.design.Predictor(x, f.class, f.slot, z))
		for k := 1; k < s.design.Numbers; k++ {
			add(f.class, f.slot, k, 0)
		}
	}
	for g := range held.Slots {
		for slot := range held.Slots[g] {
			if held.Links[g][slot].Kind != likelihood.Fixed {
				for k := range s.design.Numbers {
					add(g, slot, k, 0)
				}
			}
		}
	}
	d := make([]float64, n)
	likelihood.SolveRidge(a, b, n, 1e-11, d)
	for _, l := range lines {
		v, has := -l.target, false
		for _, e := range s.design.Slots[l.class][l.slot] {
			if e.Number == l.number {
				v += e.Value * d[e.Column]
				has = true
			}
		}
		if !has {
			continue
		}
		if math.Abs(v) > 1e-4*far {
			return nil, false
		}
	}
	y := append([]float64(nil), x...)
	for i := range y {
		y[i] += d[i]
	}
	return y, true
}
