package maximum

import (
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// StartValues are coefficients near the closed form of every class, weighed by
// the fish behind it; classes that say nothing take the value of all fish.
func StartValues(p *model.Problem) []float64 {
	l := p.Layout
	all := p.Sum(nil)
	pooled := slotTargets(p, &all, nil)
	target := make([][]float64, len(p.Classes))
	weight := make([][]float64, len(p.Classes))
	for g := range p.Classes {
		t := &p.Classes[g].Tally
		target[g] = slotTargets(p, t, pooled)
		weight[g] = make([]float64, l.Slots())
		for a := range weight[g] {
			var site int
			switch p.PartOf(a) {
			case model.Survival:
				site = l.Reach(a)
			case model.Detection:
				site = p.Site(a) - 1
			}
			weight[g][a] = 0.5 + float64(t.Released[site])
		}
		model.Travelled(l, p.Data.TravelTimes, g, target[g])
	}
	return likelihood.Project(p.Design, target, weight)
}

// slotTargets are the closed form of t by slot, kept inside (0, 1).
func slotTargets(p *model.Problem, t *model.Tally, fallback []float64) []float64 {
	l := p.Layout
	c := model.NewClosedForm(t)
	last := l.Sites() - 1
	root := math.Sqrt(c.Last)
	out := make([]float64, l.Slots())
	for a := range out {
		v := math.NaN()
		if p.PartOf(a).Moves() {
			out[a] = v
			continue
		}
		if k := l.Reach(a); k >= 0 {
			v = c.Survival[k]
			if k == last-1 {
				v = root
			}
		} else if k := p.Site(a); k == last {
			v = root
		} else {
			v = c.Detection[k]
			// A divided site's detection is shared out by what each row saw.
			if from, to := l.SiteRows(k); to-from > 1 && t.Seen[k] > 0 {
				v *= float64(t.RowSeen[l.Row(a)]) / float64(t.Seen[k])
			}
		}
		if math.IsNaN(v) {
			v = 0.7
			if fallback != nil {
				v = fallback[a]
			}
		}
		out[a] = min(0.97, max(0.03, v))
	}
	return out
}
