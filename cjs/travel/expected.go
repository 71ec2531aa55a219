package travel

import (
	"math"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/likelihood/passtime"
)

// Expected is what the law of a stretch expects of the fish that were seen at
// both of its ends: each of them arrived when it could be seen.
type Expected struct {
	law passtime.Law
	// room are the days of each fish, in rising order; weight[i] is the sum of
	// 1/F(room) over the fish from i on.
	room, weight []float64
	// windowed are the fish that could not be seen all that time.
	windowed *journeys
}

// hasStretch tells whether site from lies above site to.
func hasStretch(h *history.Histories, from, to int) bool {
	return h.First != nil && h.Last != nil && from >= 0 && from < to && to < len(h.River.Sites)
}

// Expected is nil where the stretch has no law, or one without a drift.
func (r *Result) Expected(h *history.Histories, s *Stretch) *Expected {
	if h.Check() != nil || s == nil || !hasStretch(h, s.From, s.To) || s.Law == nil || math.IsNaN(s.Law.Drift.Value) {
		return nil
	}
	j, _ := r.journeys(newTimes(h), s.From, s.To, s.Cohort)
	var room []float64
	e := &Expected{law: s.Law.Over(s.Km), windowed: &journeys{}}
	for i, w := range j.room {
		if open := j.opens(i); open != nil {
			e.windowed.room, e.windowed.open = append(e.windowed.room, w), append(e.windowed.open, open)
		} else {
			room = append(room, w)
		}
	}
	slices.Sort(room)
	e.room, e.weight = room, make([]float64, len(room)+1)
	for i, w := range slices.Backward(room) {
		e.weight[i] = e.weight[i+1] + 1/e.cdf(w)
	}
	return e
}

// cdf is 1 after endless days: every migrant arrives.
func (e *Expected) cdf(t float64) float64 {
	if math.IsInf(t, 1) {
		return 1
	}
	return e.law.CDF(t)
}

// after is the sum of 1/F(room) over the fish that had more than t days, and
// the index of the first of them.
func (e *Expected) after(t float64) (float64, int) {
	if e.windowed == nil {
		return 0, 0 // no fish
	}
	i, _ := slices.BinarySearch(e.room, t)
	for i < len(e.room) && e.room[i] <= t {
		i++
	}
	return e.weight[i], i
}

// Density is the number of fish a day expected to take t days.
func (e *Expected) Density(t float64) float64 {
	if !(t > 0) {
		return 0
	}
	if e.windowed == nil {
		return 0
	}
	w, _ := e.after(t)
	for _, open := range e.windowed.open {
		for _, p := range open {
			if t > p.from && t <= p.to {
				w += p.seen / e.seen(open)
			}
		}
	}
	return w * e.law.Density(t)
}

// Between is the number of fish expected to take from a to b days.
func (e *Expected) Between(a, b float64) float64 {
	if e.windowed == nil || !(a <= b) {
		return 0
	}
	low := 0.0
	if a > 0 {
		low = e.law.CDF(a)
	}
	all, beyond := e.after(b)
	sum := all * (e.cdf(b) - low)
	for _, w := range e.room[:beyond] {
		if w > a {
			f := e.cdf(w)
			sum += (f - low) / f
		}
	}
	for i, open := range e.windowed.open {
		sum += (e.windowed.came(e.law, i, b) - e.windowed.came(e.law, i, a)) / e.seen(open)
	}
	return sum
}

// seen is the chance to be seen at all.
func (e *Expected) seen(open []part) (sum float64) {
	for _, p := range open {
		sum += p.seen * (e.law.CDF(p.to) - e.law.CDF(p.from))
	}
	return sum
}
