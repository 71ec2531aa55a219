package cjs

import (
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// SeenAt gives the probability under the fit that the fish of record i is seen
// at a site below its entry when it passes there at a moment (Unix milliseconds),
// by any row then at work; [history.NoTime]: by any row. Where only a
// product with survival can be had, what it gives tells no more than which
// fish are alike. The function is for one goroutine at a time.
func (f *Fit) SeenAt() func(i, site int, ms int64) float64 {
	if f.Check() != nil {
		return func(int, int, int64) float64 { return math.NaN() }
	}
	p := f.Problem
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	return func(i, site int, ms int64) float64 {
		if i < 0 || i >= len(p.ClassOf) {
			return math.NaN()
		}
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
	if f.Check() != nil {
		return func(int) [][]float64 { return nil }
	}
	p := f.Problem
	if p.Timed() {
		return f.nextSeenByTime()
	}
	next := likelihood.NewRedetection(f.design)
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	return func(i int) [][]float64 {
		if i < 0 || i >= len(p.ClassOf) {
			return nil
		}
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
		if i < 0 || i >= len(p.ClassOf) {
			return nil
		}
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
	if f.Check() != nil {
		return func(_ int, score []float64) { clear(score) }
	}
	p := f.Problem
	l := p.Layout
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	data := &likelihood.Data{Units: []likelihood.Unit{likelihood.NewUnit(l, 0, z)}}
	u := &data.Units[0]
	cjs := likelihood.NewCJS(f.design, data)
	var at likelihood.Point
	return func(i int, score []float64) {
		if i < 0 || i >= len(p.ClassOf) {
			clear(score)
			return
		}
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
func (f *Fit) PassedGradient(j int) []float64 {
	if j < 0 || j >= len(f.Passed) {
		return nil
	}
	return f.Passed[j].grad
}

// leastUnseen: of the share of the unknown that passed the logit tells nothing
// where a binomial of the same share and standard error would have fewer than
// this on the rarer side.
const leastUnseen = 1

// FishInterval is the interval of a number of fish that passed a site: known
// are known to have, and of unknown others passing are expected to, se their
// standard error. It is that of the share passing of the unknown (see
// [Interval]), so that it never goes below the known nor above all; where that
// share is too near 0 or 1 for its logit, z standard errors wide within the same
// ends. Where the share is 0 or 1 there is none: low and high are NaN.
func FishInterval(known, unknown, passing, se, z float64) (low, high float64, method string) {
	if unknown == 0 {
		return known, known, "counted"
	}
	share := passing / unknown
	if !(share > 0 && share < 1) || !(se >= 0) || !(z >= 0) {
		e := NoEstimate(Absent)
		return e.Low, e.High, ""
	}
	if n := share * (1 - share) / (se * se / (unknown * unknown)); n*min(share, 1-share) < leastUnseen {
		return known + max(0, passing-z*se), known + min(unknown, passing+z*se), "wald"
	}
	low, high, method = Interval(share, se/unknown, z)
	return known + unknown*low, known + unknown*high, method
}

// passedFish is the number of fish that really passed site k: those known to,
// and of those never seen again above it the share expected to have passed.
// The variance has a part from the parameters and Σ q(1−q) from the fish
// themselves. The interval, symmetric on the logit of the unknown share, never
// goes below the number known to have passed.
func (f *Fit) passedFish(gr *group, t *model.Tally, unseen []likelihood.PassedSums, k int, status Status) Estimate {
	if status == Inseparable || status == Absent {
		return NoEstimate(status)
	}
	known := float64(t.KnownPassed(k))
	grad := make([]float64, f.Parameters)
	sum, own, unknown := f.sumOver(gr, unseen, k, grad)
	e := Estimate{Value: known + sum, Status: status}
	e.SE = math.Sqrt(f.variance(grad) + own)
	e.Low, e.High, e.Method = FishInterval(known, unknown, sum, e.SE, f.z)
	return e
}

// sumOver adds up the passages of the group's classes for site k; the second
// value is false when no fish of the group is concerned.
func (f *Fit) sumOver(gr *group, ps []likelihood.PassedSums, k int, grad []float64) (value, own, fish float64) {
	for i := range ps {
		if gr.has(ps[i].Class) {
			v, o := ps[i].AddTo(f.design, k, 1, grad)
			value, own, fish = value+v, own+o, fish+ps[i].Sites[k].Fish
		}
	}
	return value, own, fish
}

// meanQuantity is the mean over the group's newly released fish that entered
// above site k of the product of the factors for their entry.
func meanQuantity(gr *group, fresh []likelihood.FishGroup, k int, factors func(entry int) []likelihood.Factor) *likelihood.Quantity {
	q := &likelihood.Quantity{}
	var fish float64
	for i := range fresh {
		b := &fresh[i]
		if b.Site >= k || !gr.has(b.Class) || b.N == 0 {
			continue
		}
		for f := range b.N {
			w := 1.0
			if b.Weight != nil {
				w = b.Weight[f]
			}
			fish += w
		}
		q.Means = append(q.Means, likelihood.Mean{Class: b.Class, Factors: factors(b.Site), Z: b.Z, Weight: b.Weight, N: b.N, Each: 1})
	}
	for i := range q.Means {
		q.Means[i].Scale = 1 / fish
	}
	return q
}

// above are the survival factors from entry to site k.
func (f *Fit) above(k int) func(entry int) []likelihood.Factor {
	return func(entry int) []likelihood.Factor {
		var out []likelihood.Factor
		for r := entry; r < k; r++ {
			out = append(out, likelihood.Factor{Slot: f.Problem.Layout.Survival(r)})
		}
		return out
	}
}
