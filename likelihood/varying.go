package likelihood

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"example.org/unseen/likelihood/linear"
)

const (
	// restDays: a day more or less changes little of what the test finds.
	restDays = 4
	// restShare is so small that differences are derivatives.
	restShare = 1e-5
	// scaled: all times of a fish are c times as long where its drift is c and its
	// spread √c times as small.
	scaled = 0.5
)

// OneLaw are score tests of one law of travel for all fish alike in class and
// numbers, each a standard normal deviate where it holds, and NaN where the times
// cannot tell. speeds is large where fish have time scales of their own, constant
// along the river; rests where some of the newly released first rest for days (NaN
// where they do by the design). fish are the travel times by fish, to which d was
// fitted at x; the first Weight counts those alike.
//
// With ℓ the log-likelihood of a fish, a small variance of its log time scale adds to
// ℓ in proportion to s = (ℓ″ + ℓ′²)/2 (White 1982, Econometrica 50:1–25; Chesher
// 1984, Econometrica 52:865–872); for rests s is the derivative by their share at 0.
// The deviate is the sum over fish of s less its regression on the scores, over its
// standard deviation, made normal for skew terms (Hall 1992, Journal of the Royal
// Statistical Society B 54:221–228).
func OneLaw(d *Design, x []float64, fish [][]TravelTime) (speeds, rests float64) {
	var all []TravelTime
	for _, of := range fish {
		if len(of) == 0 {
			return math.NaN(), math.NaN()
		}
		all = append(all, of...)
	}
	if len(all) == 0 || !d.evaluates(x) || (&Data{TravelTimes: all}).fits(d) != nil || d.Layout.Km == nil {
		return math.NaN(), math.NaN()
	}
	n := d.Columns
	a := newAlike(d, x)
	late := a
	if !d.Layout.Resting {
		late = newAlike(resting(d, x, &fish[0][0]), x)
	}
	weights, scores := make([]float64, len(fish)), make([]float64, len(fish)*n)
	bent, rested := make([]float64, len(fish)), make([]float64, len(fish))
	outer := make([]float64, n*n)
	var p Point
	for k, trips := range fish {
		late.fish(trips, 0)
		rested[k] = late.moments.f
		a.fish(trips, 2)
		rested[k] = (rested[k] - a.moments.f) / restShare
		bent[k] = a.bend()
		p.reset(n, 1)
		a.moments.fold(d, trips[0].Class, 1, &p)
		weights[k] = trips[0].Weight
		copy(scores[k*n:], p.G)
		for i, u := range p.G {
			for j, v := range p.G {
				outer[i*n+j] += weights[k] * u * v
			}
		}
	}
	eigen, ok := linear.Decompose(outer, n)
	if !ok {
		return math.NaN(), math.NaN()
	}
	inverse := eigen.Inverse(linear.RankTolerance)
	regress(bent, scores, weights, inverse)
	regress(rested, scores, weights, inverse)
	return unskewedMean(bent, weights), unskewedMean(rested, weights)
}

// alike takes the times of one fish after another.
type alike struct {
	design  *Design
	x       []float64
	moments *moments
	way     way
	sweep   *sweep
}

func newAlike(d *Design, x []float64) *alike {
	a := &alike{design: d, x: x, moments: newMoments(d), way: newWay(d.Layout)}
	if d.Layout.Windowed() {
		a.sweep = newSweep(d.Layout, &a.way)
	}
	return a
}

// fish sets the moments to those of one fish.
func (a *alike) fish(trips []TravelTime, order int) {
	m := a.moments
	m.clear(order)
	for _, t := range trips {
		t.Weight = 1
		m.alone(&a.way, a.design, a.x, &t, order)
		switch {
		case t.Within > 0 && a.sweep != nil:
			m.givenWork(a.sweep, a.design, a.x, &t, order)
		case t.Within > 0:
			m.given(&a.way, a.design, a.x, &t, order)
		}
	}
}

// bend is s of a time scale.
func (a *alike) bend() float64 {
	l, m := a.design.Layout, a.moments
	by := make([]float64, m.slots)
	for i := range l.LawCount() {
		by[l.Drift(i)], by[l.Spread(i)] = 1, scaled
	}
	var first, second float64
	for i, u := range by {
		first += u * m.g[i]
		for j, v := range by {
			second += u * v * m.m[min(i, j)*m.slots+max(i, j)]
		}
	}
	return (second + first*first) / 2
}

// resting is d at x where a small share of the newly released fish rest for
// restDays at the speed of t.
func resting(d *Design, x []float64, t *TravelTime) *Design {
	l := d.Layout
	c := *d
	c.Layout = l.moved(l.Km, l.Laws, true)
	c.Slots, c.Links = slices.Clone(d.Slots), slices.Clone(d.Links)
	km := restDays * d.prob(x, t.Class, l.Drift(0), t.Z).P
	for g := range c.Slots {
		c.Slots[g] = append(slices.Clip(d.Slots[g]), nil, nil)
		c.Links[g] = append(slices.Clip(d.Links[g]), Link{Kind: Fixed, Value: restShare}, Link{Kind: Fixed, Value: km})
	}
	return &c
}

// regress takes from each s its regression on the scores, of which inverse is that
// of the sum of outer products.
func regress(s, scores, weights, inverse []float64) {
	n := len(scores) / len(s)
	by, cross := make([]float64, n), make([]float64, n)
	for k, v := range s {
		for i, g := range scores[k*n : (k+1)*n] {
			cross[i] += weights[k] * v * g
		}
	}
	for i := range by {
		for j, c := range cross {
			by[i] += inverse[i*n+j] * c
		}
	}
	for k := range s {
		for i, g := range scores[k*n : (k+1)*n] {
			s[k] -= by[i] * g
		}
	}
}

// unskewedMean is the mean of v, of weights w, over its standard error, by Hall's
// cubic transformation.
func unskewedMean(v, w []float64) float64 {
	mean, sd := stat.PopMeanStdDev(v, w)
	var n, third float64
	for i, x := range v {
		n += w[i]
		third += w[i] * math.Pow((x-mean)/sd, 3)
	}
	root := math.Sqrt(n)
	t, skew := root*mean/sd, third/n/root
	return t + skew*(t*t/3+1.0/6) + skew*skew*t*t*t/27
}
