package cjs

import (
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// SeenAt gives the probability under the fit that the fish of record i is seen
// at a site below its entry when it passes there at a moment (Unix milliseconds),
// by any row then at work; [history.NoTime]: by any row. Where only a
// product with survival can be had, what it gives tells no more than which
// fish are alike. The function is for one goroutine at a time.
func (f *Fit) SeenAt() func(i, site int, ms int64) float64 {
	p := f.Problem
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	return func(i, site int, ms int64) float64 {
		g := int(p.ClassOf[i])
		if g < 0 {
			// Left out of the fit for a missing value.
			return 0
		}
		for n := range p.Z {
			z[n+1] = p.Z[n][i]
		}
		missed := 1.0
		from, to := p.Layout.SiteRows(site)
		idle := uint64(0)
		if ms != history.NoTime {
			idle = p.IdleAt(site, ms)
		}
		for b := from; b < to; b++ {
			if idle>>uint(b)&1 == 1 {
				continue
			}
			missed *= f.design.Prob(f.X, g, p.Layout.Detection(b), z).Q
		}
		return 1 - missed
	}
}

// SeenKnown tells whether the detection at a site is estimated for every group
// of fish, not only its product with survival.
func (f *Fit) SeenKnown(site int) bool {
	for i := range f.Detection {
		d := &f.Detection[i]
		if d.Site == site && (d.Status == Inseparable || d.Status == Absent) {
			return false
		}
	}
	return true
}

// NextSeen gives, for the fish of record i, the probability under the fit that,
// alive and at large at the first site, it is next seen at the second; where times
// count, from the sites where it was seen, since when it was. The slices are
// overwritten by the next call; the function is for one goroutine at a time.
func (f *Fit) NextSeen() func(i int) [][]float64 {
	p := f.Problem
	if p.Timed() {
		return f.nextSeenByTime()
	}
	next := likelihood.NewRedetection(f.design)
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	return func(i int) [][]float64 {
		for m := range p.Z {
			z[m+1] = p.Z[m][i]
		}
		return next.At(f.X, int(p.ClassOf[i]), z)
	}
}

func (f *Fit) nextSeenByTime() func(i int) [][]float64 {
	p, h := f.Problem, f.Problem.Histories
	var waits []likelihood.Wait
	var at, first []int // site of each wait; of each record
	for i, g := range p.ClassOf {
		first = append(first, len(waits))
		for k := int(h.Entry[i]); g >= 0 && k < p.Layout.Sites()-1; k++ {
			if ms, ok := p.ReleasedAt(i, k); ok {
				waits, at = append(waits, p.WaitAt(i, k, ms)), append(at, k)
			}
		}
	}
	next := likelihood.NextSeen(f.design, f.X, waits)
	first = append(first, len(waits))
	out := make([][]float64, p.Layout.Sites())
	return func(i int) [][]float64 {
		for n := first[i]; n < first[i+1]; n++ {
			out[at[n]] = next[n]
		}
		return out
	}
}

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
