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

// soFarOf is what has passed site k so far of fish of which something is known,
// at the limits of what will have; 0 of none.
func (r *running) soFarOf(known *group, k int, fresh []likelihood.FishGroup, at *pending) Estimate {
	f := r.f
	grad := make([]float64, f.Parameters)
	value, _, fish := f.sumOver(known, r.by, k, grad)
	if fish == 0 {
		return Estimate{}
	}
	for j := range grad {
		grad[j] /= fish
	}
	so := Estimate{Value: value / fish, SE: math.Sqrt(f.variance(grad))}
	so.Low, so.High = so.Value, so.Value
	if so.Value > 0 && so.Value < 1 {
		var whole likelihood.Point
		meanQuantity(known, fresh, k, f.above(k)).Eval(f.design, f.X, 1, &whole)
		soAt, _ := r.sharesAt(known, k, fresh, at)
		f.intervalAt(&so, grad, whole.G, soAt)
	}
	return so
}

// boundsRow sets what has passed so far and what will, of a row that holds fish
// of which nothing is known: they may all have died, or have come as they would
// had none.
func (r *running) boundsRow(gr *group, row *Passed, fresh []likelihood.FishGroup, at *pending) {
	f := r.f
	k := row.Site
	var known, unknown group
	for _, g := range gr.classes {
		one := group{classes: []int{g}}
		q := meanQuantity(&one, fresh, k, f.above(k))
		switch {
		case len(q.Means) == 0:
		case r.unknown(q):
			unknown.classes = append(unknown.classes, g)
		default:
			known.classes = append(known.classes, g)
		}
	}
	fish := float64(row.Released)
	so := r.soFarOf(&known, k, fresh, at)
	came := make([]float64, f.Parameters)
	atMost, _, _ := f.sumOver(&unknown, r.come(), k, came)
	atMost += f.z * math.Sqrt(f.variance(came)) // how fast they are is known no better
	told := known.tally(f.Problem)
	of := float64(told.NewAbove(k)) / fish
	so = Estimate{Value: of * so.Value, SE: of * so.SE, Low: of * so.Low, High: of * so.High, Status: r.comeStatus(gr, k, fresh), Method: "bounds"}
	t := unknown.tally(f.Problem)
	seen := float64(t.KnownPassed(k)) / fish
	so.Low, so.High = so.Low+seen, min(1, so.High+max(seen, atMost/fish))
	if atMost/fish > hidden {
		so.Value, so.SE, so.Status = math.NaN(), math.NaN(), TooEarly
	}
	row.SoFar = so
	row.StillToPass = Estimate{Value: math.NaN(), SE: math.NaN(), Status: TooEarly, Method: "bounds",
		Low: max(0, row.PassedShare.Low-so.High), High: max(0, row.PassedShare.High-so.Low)}
	row.PassedFish = r.fishBounds(&known, &unknown, row)
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
