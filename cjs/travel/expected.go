package travel

import (
	"math"
	"slices"

	"example.org/unseen/history"
)

// Expected is what the law of a stretch expects of the fish that were seen at
// both of its ends: each of them arrived within the days it had until as_of.
type Expected struct {
	law interface {
		CDF(float64) float64
		Density(float64) float64
	}
	// room are the days of each fish, in rising order; weight[i] is the sum of
	// 1/F(room) over the fish from i on.
	room, weight []float64
}

// Expected is nil where the stretch has no law, or one without a drift.
func (r *Result) Expected(h *history.Histories, s *Stretch) *Expected {
	if s.Law == nil || math.IsNaN(s.Law.Drift.Value) {
		return nil
	}
	_, room, _ := r.journeys(newTimes(h), s.From, s.To, s.Cohort)
	slices.Sort(room)
	law := s.Law.Over(s.Km)
	e := &Expected{law: law, room: room, weight: make([]float64, len(room)+1)}
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
	w, _ := e.after(t)
	return w * e.law.Density(t)
}

// Between is the number of fish expected to take from a to b days.
func (e *Expected) Between(a, b float64) float64 {
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
	return sum
}
