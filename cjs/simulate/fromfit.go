package simulate

import (
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
)

// stratum is fish of one class that entered at one site; those of next-seen
// tables that were put back make their own.
type stratum struct {
	class   int
	records []int // of the problem's histories, all fish of one being alike
	fish    []int // of each record
	total   int
}

// Resampler makes new data of the fish of a fit: simulated under its estimates
// ([Resampler.Simulate]) or drawn from the fish themselves ([Resampler.Resample]).
// A removed fish was taken out by design, so a simulated fish seen at a site is
// taken out there with the share it happened with. It is for one goroutine at
// a time.
type Resampler struct {
	fit     *cjs.Fit
	problem *model.Problem
	// removed[g][k] is the share taken out of class g's fish seen at site k.
	removed [][]float64
	// prob[g][a] is the probability of every slot, where fish are alike.
	prob   [][]float64
	strata []stratum
	counts *Counts
	// truth is the fit as something to draw with times, and records of the problem's
	// the fish of each of its cohorts; nil until needed.
	truth   *Truth
	records [][]int
}

// probabilities are those of all slots for fish of class g with numbers z.
func (a *Resampler) probabilities(g int, z, into []float64) []float64 {
	into = into[:0]
	for s := range a.problem.Layout.Slots() {
		into = append(into, min(1, max(0, a.fit.Probability(g, s, z))))
	}
	return into
}

// truthOf is the truth of a's fit, and the records of its problem that the fish of
// each cohort are of, in their order.
func truthOf(a *Resampler) (t *Truth, records [][]int) {
	f, p := a.fit, a.problem
	h := p.Histories
	t = &Truth{River: h.River}
	for _, x := range p.TestPasses {
		t.TestPasses = append(t.TestPasses, TestPasses{Row: x.Row, Passes: x.Passes})
	}
	if p.Running() {
		t.AsOf = time.UnixMilli(p.AsOf)
	}
	t.Working = p.Working
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	one := func(g, entry, fish int, record int) {
		c := Cohort{Name: h.Cohorts[h.Cohort[record]], Fish: fish, Entry: entry, Removed: a.removed[g]}
		prob := a.probabilities(g, z, nil)
		for k := range p.Layout.Sites() - 1 {
			c.Survival = append(c.Survival, prob[p.Layout.Survival(k)])
		}
		for b := range p.Layout.RowCount() {
			c.Detection = append(c.Detection, prob[p.Layout.Detection(b)])
		}
		if p.Timed() {
			c.Movement = movementOf(f, g, z)
		}
		for i, name := range p.Categories {
			if name != model.Cohort {
				if c.Levels == nil {
					c.Levels = map[string]string{}
				}
				c.Levels[name] = p.Levels[i][p.Classes[g].Level[i]]
			}
		}
		for i := range p.Numbers {
			if c.Values == nil {
				c.Values = map[string]float64{}
			}
			x := &p.Numbers[i]
			v := h.Column(x.Name).Value[record]
			if v != v { // a missing one, which the fit took for the mean
				v = x.Mean
			}
			c.Values[x.Name] = v
		}
		t.Cohorts, records = append(t.Cohorts, c), append(records, nil)
	}
	release := func(i, record int) {
		for range h.Weight(record) {
			records[i] = append(records[i], record)
			if p.Timed() {
				t.Cohorts[i].Released = append(t.Cohorts[i].Released, h.Released[record])
			}
		}
	}
	type place struct{ class, cohort, entry int }
	at := map[place]int{}
	for r, g := range p.ClassOf {
		if g < 0 || !h.New(r) || int(h.Entry[r]) > p.Layout.Sites()-2 {
			continue
		}
		if len(p.Numbers) > 0 {
			for m := range p.Z {
				z[m+1] = p.Z[m][r]
			}
			one(int(g), int(h.Entry[r]), h.Weight(r), r)
			release(len(t.Cohorts)-1, r)
			continue
		}
		of := place{int(g), int(h.Cohort[r]), int(h.Entry[r])}
		i, ok := at[of]
		if !ok {
			i = len(t.Cohorts)
			at[of] = i
			one(int(g), int(h.Entry[r]), 0, r)
		}
		t.Cohorts[i].Fish += h.Weight(r)
		release(i, r)
	}
	return t, records
}

// movementOf is how fish of class g with numbers z travel.
func movementOf(f *cjs.Fit, g int, z []float64) Movement {
	l := f.Problem.Layout
	m := Movement{Drift: f.Probability(g, l.Drift(0), z), Spread: f.Probability(g, l.Spread(0), z)}
	for k := 0; k < l.Sites()-1 && l.LawCount() > 1; k++ {
		m.Drifts = append(m.Drifts, f.Probability(g, l.Drift(l.LawOf(k)), z))
		m.Spreads = append(m.Spreads, f.Probability(g, l.Spread(l.LawOf(k)), z))
	}
	if l.Resting {
		m.Rest, m.RestKm = f.Probability(g, l.Rest(), z), f.Probability(g, l.RestKm(), z)
	}
	return m
}
