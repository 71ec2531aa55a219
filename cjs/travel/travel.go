// Package travel says how long tagged fish took: over each reach and the whole
// path, at each site, and on which dates they came by.
//
// Begin with [New]; ExampleNew shows it, ExampleLaw_Over what the law says of
// another distance. Times are in days, speeds in km/day.
package travel

import (
	"context"
	"errors"
	"math"
	"slices"

	"example.org/unseen/history"
)

// New measures the travel times of the fish in h. It returns an error when h
// has no sighting times, or when ctx ends.
func New(ctx context.Context, h *history.Histories, opt Options) (*Result, error) {
	if err := h.Check(); err != nil {
		return nil, err
	}
	if err := opt.check(len(h.River.Sites)); err != nil {
		return nil, err
	}
	if h.First == nil {
		return nil, errors.New("travel times need the time of every sighting: give the study [fish] and [sightings] instead of ready histories or counts")
	}
	if opt.AsOf != 0 && slices.ContainsFunc(h.Last, func(ms int64) bool { return ms >= opt.AsOf }) {
		return nil, errors.New("there are sightings at or after as_of; such must be set aside first (see Histories.Until)")
	}
	r := &Result{Options: opt.filled()}
	t := newTimes(h)
	last := len(h.River.Sites) - 1
	type span struct{ from, to int }
	var spans []span
	for k := range last {
		spans = append(spans, span{k, k + 1})
	}
	if last > 1 {
		spans = append(spans, span{0, last})
	}
	cohorts := []int{All}
	if len(h.Cohorts) > 1 {
		for c := range h.Cohorts {
			cohorts = append(cohorts, c)
		}
	}
	for _, s := range spans {
		for _, c := range cohorts {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			x, err := r.stretch(ctx, t, s.from, s.to, c)
			if err != nil {
				return nil, err
			}
			r.Stretches = append(r.Stretches, *x)
		}
	}
	for k := range last + 1 {
		for _, c := range cohorts {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			if s := r.stay(t, k, c); s != nil {
				r.Stays = append(r.Stays, *s)
			}
			if a := r.arrival(t, k, c); a != nil {
				r.Arrivals = append(r.Arrivals, *a)
			}
		}
	}
	r.warn(h)
	return r, nil
}

// stretch measures one stretch for one cohort.
func (r *Result) stretch(ctx context.Context, t *times, from, to, cohort int) (*Stretch, error) {
	s := &Stretch{From: from, To: to, Cohort: cohort, Km: math.Abs(t.h.River.Sites[to].Km - t.h.River.Sites[from].Km)}
	j, notTimed := r.journeys(t, from, to, cohort)
	days := j.days
	s.NotTimed = notTimed
	s.Days = history.Summarise(days, r.Options.Shares)
	speed := make([]float64, len(days))
	for i, d := range days {
		speed[i] = s.Km / d
	}
	s.KmPerDay = history.Summarise(speed, r.Options.Shares)
	var err error
	s.Law, s.WhyNoLaw, err = fitLaw(ctx, s.Km, j, r.Options)
	return s, err
}

// Days are the days each fish of h, from which r was made, took from one site
// to another: what [Stretch.Days] sums up.
func (r *Result) Days(h *history.Histories, from, to int) []float64 {
	if h.Check() != nil || !hasStretch(h, from, to) {
		return nil
	}
	j, _ := r.journeys(newTimes(h), from, to, All)
	return j.days
}

// stay measures the time at site k; nil where no fish was seen there.
func (r *Result) stay(t *times, k, cohort int) *Stay {
	s := &Stay{Site: k, Cohort: cohort}
	var days []float64
	for i := range t.h.Len() {
		first, last := t.first[i*t.sites+k], t.last[i*t.sites+k]
		if first == history.NoTime || !t.in(i, cohort) {
			continue
		}
		if last <= first {
			s.Once++
		}
		days = append(days, float64(max(0, last-first))/dayMs)
	}
	if len(days) == 0 {
		return nil
	}
	s.Days = history.Summarise(days, r.Options.Shares)
	return s
}
