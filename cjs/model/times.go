package model

import (
	"errors"
	"fmt"
	"math"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// ReleaseDay is the name under which the calendar day of release, counted from
// that of the first, can stand in terms where the fish have times.
const ReleaseDay = "release_day"

// running makes the problem one of a season that still runs.
func (p *Problem) running(asOf time.Time) error {
	h := p.Histories
	if h.First == nil || h.Released == nil {
		return fmt.Errorf("a season that still runs (as_of), or is replayed, needs the times of releases and sightings, which these histories do not have")
	}
	if err := p.places("a season that still runs (as_of), or is replayed, needs", "how far a fish has to go tells slow from dead"); err != nil {
		return err
	}
	p.AsOf = asOf.UnixMilli()
	var err error
	p.Layout, err = p.Layout.Timed(p.km, nil, p.Spec.Rest != "")
	return err
}

// places takes what the law of travel needs: the release time of every fish and
// the km of every site. needs says what asks for it, why the reason for the km.
func (p *Problem) places(needs, why string) error {
	h := p.Histories
	for i := range h.Len() {
		if h.Released[i] == history.NoTime {
			return errors.New(history.Say("%s the release time of every fish; %d have none, the first is %s", needs, p.without(), p.name(i)))
		}
	}
	km := make([]float64, len(h.River.Sites))
	for k := range km {
		km[k] = h.River.Sites[k].Km
	}
	if p.OneUnmeasuredReach() {
		// The law of travel over one stretch is the same whatever its length;
		// only speeds are not.
		km = []float64{0, 1}
	}
	for k := range km {
		if math.IsNaN(km[k]) {
			return fmt.Errorf("%s the km of every site: %s; %q has none", needs, why, h.River.Sites[k].Name)
		}
	}
	p.km, p.laws = km, p.stretches()
	return nil
}

// OneUnmeasuredReach tells of a river with one reach, of which no length is given:
// nothing can be said in km.
func (p *Problem) OneUnmeasuredReach() bool {
	if p.Histories == nil {
		return false
	}
	s := p.Histories.River.Sites
	return len(s) == 2 && math.IsNaN(s[0].Km) && math.IsNaN(s[1].Km)
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

// withReleaseDay adds the day of release, as the calendar of loc (nil: UTC) has
// it, to h's columns where terms ask for it and there is no column of that name.
func withReleaseDay(h *history.Histories, spec Spec, loc *time.Location) *history.Histories {
	wanted := false
	for _, part := range Parts() {
		if t, err := Parse(spec.Terms(part)); err == nil {
			wanted = wanted || indexOf(t.Names(), ReleaseDay) >= 0
		}
	}
	if !wanted || h.Released == nil || h.Column(ReleaseDay) != nil {
		return h
	}
	if loc == nil {
		loc = time.UTC
	}
	c := history.Column{Name: ReleaseDay, Value: make([]float64, h.Len())}
	first := math.Inf(1)
	for i, t := range h.Released {
		c.Value[i] = math.NaN()
		if t != history.NoTime {
			c.Value[i] = float64(history.Day(time.UnixMilli(t).In(loc)))
			first = min(first, c.Value[i])
		}
	}
	for i := range c.Value {
		c.Value[i] -= first
	}
	out := *h
	out.Columns = append(append([]history.Column(nil), h.Columns...), c)
	return &out
}

// times adds travel times and waits to the data.
func (p *Problem) times() error {
	if !p.Timed() {
		return nil
	}
	h := p.Histories
	for i, g := range p.ClassOf {
		if g < 0 {
			continue
		}
		at, t := int(h.Entry[i]), h.Released[i]
		for k := at + 1; k < len(p.masks); k++ {
			if h.Seen[i]&p.masks[k] == 0 {
				continue
			}
			first := p.Histories.FirstAt(i, k)
			if first == history.NoTime {
				return fmt.Errorf("%s was detected at %s, but the time is not known; %s it", p.name(i), h.River.Sites[k].Name, p.needs())
			}
			if p.Running() && first >= p.AsOf {
				return fmt.Errorf("%s was detected at %s after as_of; such records must be set aside first", p.name(i), h.River.Sites[k].Name)
			}
			p.Data.TravelTimes = append(p.Data.TravelTimes, likelihood.TravelTime{Class: int(g), Z: p.numbersOf(i), From: at, To: k, Days: max(shortestDays, float64(first-t)/msPerDay), Weight: float64(h.Weight(i)), Fresh: p.fresh(i, at), At: p.at(t)})
			p.room = append(p.room, p.left(t))
			p.tripOf = append(p.tripOf, int32(i))
			at, t = k, first
		}
	}
	p.Data.Waits = p.waits(func(i int, add func(site int, at int64)) {
		if last := p.Last(i); h.End[i] == history.Open && last < len(p.masks)-1 {
			at := h.Released[i]
			if last > int(h.Entry[i]) {
				at = p.Histories.FirstAt(i, last)
			}
			add(last, at)
		}
	})
	return nil
}

// needs names what asks for times.
func (p *Problem) needs() string {
	if p.Running() {
		return "as_of needs"
	}
	return "working windows need"
}

// left are the days from ms to the end of the data; infinite when the season is
// over.
func (p *Problem) left(ms int64) float64 {
	if !p.Running() {
		return math.Inf(1)
	}
	return float64(p.AsOf-ms) / msPerDay
}

// at is ms in days where windows of work ask for it.
func (p *Problem) at(ms int64) float64 {
	if !p.Windowed() {
		return 0
	}
	return p.since(ms)
}

// NewReleases are the newly released fish, each with the days left until the
// data end, while the season runs; those alike are one with a weight.
func (p *Problem) NewReleases() []likelihood.Wait {
	return p.waits(func(i int, add func(site int, at int64)) {
		if p.Histories.New(i) {
			add(int(p.Histories.Entry[i]), p.Histories.Released[i])
		}
	})
}

// Releases are all releases and re-releases, as [Problem.NewReleases].
func (p *Problem) Releases() []likelihood.Wait {
	h := p.Histories
	return p.waits(func(i int, add func(site int, at int64)) {
		add(int(h.Entry[i]), h.Released[i])
		last := p.Last(i)
		for k := int(h.Entry[i]) + 1; k <= last; k++ {
			if h.Seen[i]&p.masks[k] != 0 && (k < last || h.End[i] == history.Open) {
				add(k, p.Histories.FirstAt(i, k))
			}
		}
	})
}

// ReleasedAt tells when record i was released or first seen at site k; ok is false
// where it was not.
func (p *Problem) ReleasedAt(i, k int) (ms int64, ok bool) {
	h := p.Histories
	if !p.has(i) || i >= len(h.Released) || k < 0 || k >= len(p.masks) {
		return history.NoTime, false
	}
	if k == int(h.Entry[i]) {
		return h.Released[i], true
	}
	if k < int(h.Entry[i]) || h.Seen[i]&p.masks[k] == 0 {
		return history.NoTime, false
	}
	return p.Histories.FirstAt(i, k), true
}

// WaitAt is one fish of record i, let go at site k at a moment.
func (p *Problem) WaitAt(i, k int, ms int64) likelihood.Wait {
	if !p.has(i) {
		return likelihood.Wait{}
	}
	return likelihood.Wait{Class: int(p.ClassOf[i]), Z: p.numbersOf(i), Site: k, Days: p.left(ms), Weight: 1, Fresh: p.fresh(i, k), At: p.at(ms)}
}

// waits collects what each adds for a record, those alike as one.
func (p *Problem) waits(each func(i int, add func(site int, at int64))) []likelihood.Wait {
	if p.terms == nil || p.Histories.Released == nil {
		return nil
	}
	type key struct {
		class, site int
		ms          int64
		fresh       bool
	}
	var out []likelihood.Wait
	index := map[key]int{}
	for i, g := range p.ClassOf {
		if g < 0 {
			continue
		}
		each(i, func(site int, at int64) {
			k := key{int(g), site, at, p.fresh(i, site)}
			w := float64(p.Histories.Weight(i))
			if j, ok := index[k]; ok && p.Z == nil {
				out[j].Weight += w
				return
			}
			index[k] = len(out)
			out = append(out, likelihood.Wait{Class: k.class, Z: p.numbersOf(i), Site: site, Days: p.left(at), Weight: w, Fresh: k.fresh, At: p.at(at)})
		})
	}
	return out
}

// fresh tells whether record i starts at site as a newly released fish.
func (p *Problem) fresh(i, site int) bool {
	return site == int(p.Histories.Entry[i]) && p.Histories.New(i)
}

// numbersOf are the design's numbers of record i, the constant first.
func (p *Problem) numbersOf(i int) []float64 {
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	for n := range p.Z {
		z[n+1] = p.Z[n][i]
	}
	return z
}
