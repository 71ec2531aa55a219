package model

import (
	"fmt"
	"math"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// ReleaseDay is the name under which the day of release, counted from the
// first, can stand in terms where the fish have times.
const ReleaseDay = "release_day"

const (
	msPerDay = 24 * 60 * 60 * 1000
	// shortestDays: times are read to the minute or worse; a passage in no
	// time at all is taken as this.
	shortestDays = 1.0 / (24 * 60)
)

// running makes the problem one of a season that still runs.
func (p *Problem) running(asOf time.Time) error {
	h := p.Histories
	if h.First == nil || h.Released == nil {
		return fmt.Errorf("as_of needs the times of releases and sightings, which these histories do not have")
	}
	for i := range h.Len() {
		if h.Released[i] == history.NoTime {
			return fmt.Errorf("as_of needs the release time of every fish; %d have none, the first is %s", p.without(), p.name(i))
		}
	}
	km := make([]float64, len(h.River.Sites))
	for k := range km {
		km[k] = h.River.Sites[k].Km
		if math.IsNaN(km[k]) {
			return fmt.Errorf("as_of needs the km of every site: how far a fish has to go tells slow from dead; %q has none", h.River.Sites[k].Name)
		}
	}
	p.AsOf = asOf.UnixMilli()
	p.Layout = p.Layout.Timed(km)
	if p.Spec.Drift == "" {
		p.Spec.Drift = "same"
	}
	if p.Spec.Spread == "" {
		p.Spec.Spread = "same"
	}
	var err error
	if p.Drift, err = p.terms(p.Spec.Drift); err != nil {
		return fmt.Errorf("drift: %w", err)
	}
	if p.Spread, err = p.terms(p.Spec.Spread); err != nil {
		return fmt.Errorf("spread: %w", err)
	}
	return nil
}

func (p *Problem) without() int {
	n := 0
	for _, t := range p.Histories.Released {
		if t == history.NoTime {
			n++
		}
	}
	return n
}

func (p *Problem) name(i int) string {
	if p.Histories.Tag == nil {
		return fmt.Sprintf("record %d", i+1)
	}
	return p.Histories.Tag[i]
}

// withReleaseDay adds the day of release to h's columns where terms ask for it
// and there is no column of that name.
func withReleaseDay(h *history.Histories, spec Spec) *history.Histories {
	wanted := false
	for _, s := range []string{spec.Survival, spec.Detection, spec.Drift, spec.Spread} {
		if t, err := Parse(s); err == nil {
			wanted = wanted || indexOf(t.Names(), ReleaseDay) >= 0
		}
	}
	if !wanted || h.Released == nil || h.Column(ReleaseDay) != nil {
		return h
	}
	first := int64(math.MaxInt64)
	for _, t := range h.Released {
		if t != history.NoTime {
			first = min(first, t)
		}
	}
	c := history.Column{Name: ReleaseDay, Value: make([]float64, h.Len())}
	for i, t := range h.Released {
		c.Value[i] = math.NaN()
		if t != history.NoTime {
			c.Value[i] = math.Floor(float64(t-first) / msPerDay)
		}
	}
	out := *h
	out.Columns = append(append([]history.Column(nil), h.Columns...), c)
	return &out
}

// times adds trips and waits to the data.
func (p *Problem) times() error {
	if !p.Running() {
		return nil
	}
	h := p.Histories
	type key struct {
		class, site int
		ms          int64
	}
	same := map[key]int{}
	one := []float64{1}
	for i, g := range p.ClassOf {
		if g < 0 {
			continue
		}
		z := one
		if p.Z != nil {
			z = make([]float64, p.Design.Numbers)
			z[0] = 1
			for n := range p.Z {
				z[n+1] = p.Z[n][i]
			}
		}
		w := float64(h.Weight(i))
		at, t := int(h.Entry[i]), h.Released[i]
		for k := at + 1; k < len(p.masks); k++ {
			if h.Seen[i]&p.masks[k] == 0 {
				continue
			}
			first := p.FirstAt(i, k)
			if first == history.NoTime {
				return fmt.Errorf("%s was seen at %s, but the time is not known; as_of needs it", p.name(i), h.River.Sites[k].Name)
			}
			if first > p.AsOf {
				return fmt.Errorf("%s was seen at %s after as_of; such sightings must be set aside first", p.name(i), h.River.Sites[k].Name)
			}
			p.Data.Trips = append(p.Data.Trips, likelihood.Trip{Class: int(g), Z: z, Km: p.Layout.Distance(at, k), Days: max(shortestDays, float64(first-t)/msPerDay), Weight: w})
			at, t = k, first
		}
		if h.End[i] != history.Open || at == len(p.masks)-1 {
			continue
		}
		if p.Z == nil {
			k := key{int(g), at, t}
			if j, ok := same[k]; ok {
				p.Data.Waits[j].Weight += w
				continue
			}
			same[k] = len(p.Data.Waits)
		}
		p.Data.Waits = append(p.Data.Waits, likelihood.Wait{Class: int(g), Z: z, Site: at, Days: float64(p.AsOf-t) / msPerDay, Weight: w})
	}
	return nil
}

// FirstAt is the first sighting of record i at site k, Unix milliseconds;
// NoTime where there is none or its time is not known.
func (p *Problem) FirstAt(i, k int) int64 {
	rows := p.Layout.RowCount()
	best := int64(history.NoTime)
	from, to := p.Layout.SiteRows(k)
	for b := from; b < to; b++ {
		if t := p.Histories.First[i*rows+b]; t != history.NoTime && (best == history.NoTime || t < best) {
			best = t
		}
	}
	return best
}
