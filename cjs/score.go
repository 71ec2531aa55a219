package cjs

import (
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// Score gives the gradient by X of the log-likelihood of one fish of record i
// at the estimates, with bounds held: the score of that fish. It fills score,
// of Parameters values; times of passage have no part in it. The function is
// for one goroutine at a time.
func (f *Fit) Score() func(i int, score []float64) {
	p := f.Problem
	l := p.Layout
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	data := &likelihood.Data{Units: []likelihood.Unit{likelihood.NewUnit(l, 0, z)}}
	u := &data.Units[0]
	cjs := likelihood.NewCJS(f.design, data)
	var at likelihood.Point
	return func(i int, score []float64) {
		u.Class = int(p.ClassOf[i])
		for n := range p.Z {
			z[n+1] = p.Z[n][i]
		}
		clear(u.Alive)
		clear(u.Seen)
		clear(u.Missed)
		clear(u.Never)
		h := p.Histories
		u.Add(l, int(h.Entry[i]), p.Last(i), h.Seen[i], h.End[i] == history.Open, true, 1)
		cjs.Eval(f.X, 1, &at)
		copy(score, at.G)
	}
}

// PassedGradient is the gradient by X of the passed share of Passed[j].
func (f *Fit) PassedGradient(j int) []float64 { return f.Passed[j].grad }
