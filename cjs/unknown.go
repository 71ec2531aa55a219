package cjs

import (
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// While the season runs nothing may be known yet of some fish, such as those
// released this morning. A share of all fish that holds them too has bounds
// alone: none of them, or all.

// nothingKnown: where the expected standard error of a probability is above
// this, the day says nothing on it: any value from 0 to 1 alike has 0.29.
const nothingKnown = 0.29

// unknown tells whether the day says nothing on q, the share of fish of one
// class: by the expected information of the releases at a point where no
// probability is at a bound, for at a bound all looks known.
func (r *running) unknown(q *likelihood.Quantity) bool {
	if r.inside == nil {
		return true
	}
	var p likelihood.Point
	q.Eval(r.f.Problem.Design, r.inner, 1, &p)
	v := p.F
	if !(v > 0 && v < 1) {
		return false // held, or a linear link
	}
	r.withoutRest(p.G)
	if r.inside.Outside(p.G, hereTolerance) > determined {
		return true
	}
	now := math.Sqrt(quadratic(r.innerVariance, p.G))
	// Where waiting tells no more it is not the day.
	return now > nothingKnown && (r.innerEnd == nil || !(now < TooEarlyRatio*math.Sqrt(quadratic(r.innerEnd, p.G))))
}

// withoutRest takes out of a gradient what the expected information leaves out.
func (r *running) withoutRest(grad []float64) {
	for j, c := range r.f.Problem.Columns {
		if c.Part == model.Rest || c.Part == model.RestKm {
			grad[j] = 0
		}
	}
}

// quadratic is gᵀ a g.
func quadratic(a, g []float64) float64 {
	n := len(g)
	var sum float64
	for i, x := range g {
		if x == 0 {
			continue
		}
		for j, y := range g {
			sum += x * a[i*n+j] * y
		}
	}
	return max(0, sum)
}

// parts are the means of q of which something is known, with their share of its
// weight.
func (r *running) parts(q *likelihood.Quantity) (known *likelihood.Quantity, share float64) {
	known = &likelihood.Quantity{Complement: q.Complement}
	var all float64
	for i := range q.Means {
		m := q.Means[i]
		w := weightOf(&m)
		all += w
		one := m
		one.Scale = scaleOf(&m) / w
		if r.unknown(&likelihood.Quantity{Means: []likelihood.Mean{one}}) {
			continue
		}
		known.Means = append(known.Means, m)
		share += w
	}
	for i := range known.Means {
		known.Means[i].Scale = scaleOf(&known.Means[i]) / share * all
	}
	return known, share / all
}

func scaleOf(m *likelihood.Mean) float64 {
	if m.Scale == 0 {
		return 1
	}
	return m.Scale
}

// weightOf is what a mean comes to where all its probabilities are 1.
func weightOf(m *likelihood.Mean) float64 {
	w := m.Each * float64(m.N)
	if m.Weight != nil {
		w = 0
		for _, v := range m.Weight {
			w += v
		}
	}
	return w * scaleOf(m)
}

// hidden: a share so small is not seen in an answer.
const hidden = 0.0005

// fishBounds is the number of fish that have passed, of which the unknown are
// those known to have, up to as many as had time to.
func (r *running) fishBounds(known, unknown *group, row *Passed) Estimate {
	f := r.f
	e := f.passedFish(known, new(known.tally(f.Problem)), r.unseen, row.Site, Estimated)
	if len(known.classes) == 0 {
		e = Estimate{Status: Estimated}
	}
	t := unknown.tally(f.Problem)
	seen := float64(t.KnownPassed(row.Site))
	atMost, own, fish := f.sumOver(unknown, r.come(), row.Site, nil)
	most := min(fish, atMost+f.z*math.Sqrt(own))
	if math.IsNaN(e.Low) {
		e.Low, e.High = e.Value, e.Value
	}
	e.Value, e.Low, e.High, e.Method = e.Value+seen, e.Low+seen, e.High+max(seen, most), "bounds"
	if most-seen > hidden*float64(row.Released) {
		e.Value, e.SE, e.Status = math.NaN(), math.NaN(), TooEarly
	}
	return e
}

// come are the newly released fish by how many would have come to each site by
// the end of the data had none died.
func (r *running) come() []likelihood.PassedSums {
	if r.alive == nil {
		d := r.f.design
		links := make([][]likelihood.Link, len(d.Links))
		for g := range links {
			links[g] = append([]likelihood.Link(nil), d.Links[g]...)
			for a := range links[g] {
				if d.Layout.Reach(a) >= 0 {
					links[g][a] = likelihood.Link{Kind: likelihood.Fixed, Value: 1}
				}
			}
		}
		r.alive = likelihood.SurvivedBy(r.f.Problem.Design.WithLinks(links), r.f.X, r.f.Problem.NewReleases())
	}
	return r.alive
}

// early tells whether the data end too early for a point of a probability of
// value v and gradient grad, by the expected information of these releases,
// and rough whether its large-sample interval is not to be trusted.
func (r *running) early(v float64, grad []float64) (early, rough bool) {
	if r.now == nil || r.end == nil {
		return true, true
	}
	if !(v > 0 && v < 1) {
		return r.under > someUnderway, true
	}
	grad = append([]float64(nil), grad...)
	r.withoutRest(grad)
	if r.nowScaled.Outside(grad, hereTolerance) > determined {
		return true, true
	}
	se := func(covariance []float64) float64 { return math.Sqrt(quadratic(covariance, grad)) / (v * (1 - v)) }
	now := se(r.now)
	byDay := !(now < TooEarlyRatio*se(r.end))
	// What comes out at a bound mid-season is most often the day's doing;
	// standard errors that hold it there are too small. So are those where a
	// stretch has a law of its own: its own few fish tell slow from dead.
	narrow := len(r.f.limits) > 0 || r.f.Problem.Layout.LawCount() > 1
	return !(now < TooEarlySE) && byDay, byDay || narrow && r.under > someUnderway
}

const (
	// TooEarlySE: where the expected standard error of a probability, on the
	// logit scale, is above this, the data may end too early to tell slow from
	// dead, and no point is given. Around one half it makes the interval reach
	// from 36 to 64 %; beyond it the estimates of the season study
	// (testdata/studies/README.md) are biased.
	TooEarlySE = 0.3
	// TooEarlyRatio: it is the day that is too early, and not the fish too
	// few, where waiting for all migrants would bring the standard error down
	// by this factor at least. On such days intervals are by profile
	// likelihood: slow and dead are told apart by few fish, and large-sample
	// intervals are too short.
	TooEarlyRatio = 1.25
	// someUnderway: with a larger share of fish still to come, a probability
	// that comes out as 0 or 1 is put down to the day.
	someUnderway = 0.01
	// allDays is time enough for every migrant to have come.
	allDays = 1e5
)
