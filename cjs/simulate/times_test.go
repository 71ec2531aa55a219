package simulate_test

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

const day = 24 * time.Hour

var firstDay = time.Date(2025, 4, 1, 12, 0, 0, 0, time.UTC)

// days are the noons of n days of the season.
func days(n int) (out []int64) {
	for i := range n {
		out = append(out, firstDay.Add(time.Duration(i)*day).UnixMilli())
	}
	return out
}

// timedTruth is a river of 40 and 20 km, and fish released over ten days.
func timedTruth(fish int, survival, detection float64) simulate.Truth {
	r := river(3, nil)
	for k, km := range []float64{60, 20, 0} {
		r.Sites[k].Km = km
	}
	return simulate.Truth{River: r, Cohorts: []simulate.Cohort{{Name: "all", Fish: fish, Survival: same(2, survival), Detection: same(2, detection),
		Released: days(10), Movement: simulate.Movement{Drift: 8, Spread: 12}}}}
}

// TestTimesAreThoseOfTheLaw: the days over d km have the mean d/v and the
// standard deviation σ√d/v^1.5 (Tweedie 1957), within 5 standard errors; the
// kurtosis excess of the law, 15σ²/(dv), is in that of the deviation.
func TestTimesAreThoseOfTheLaw(t *testing.T) {
	truth := timedTruth(4000, 1, 1)
	require.NoError(t, truth.Check())
	h := truth.Draw(41, 1).Histories
	require.Equal(t, 4000, h.Len())
	at := map[int64]int{}
	for reach, km := range []float64{40, 20} {
		var sum, sq float64
		for i := range h.Len() {
			from := h.Released[i]
			if reach > 0 {
				from = h.First[2*i]
			} else {
				at[from]++
			}
			d := float64(h.First[2*i+reach]-from) / float64(day.Milliseconds())
			sum, sq = sum+d, sq+d*d
		}
		n := float64(h.Len())
		mean, sd := sum/n, math.Sqrt(sq/n-sum*sum/n/n)
		wantSD := 12 * math.Sqrt(km) / math.Pow(8, 1.5)
		assert.InDelta(t, km/8, mean, 5*wantSD/math.Sqrt(n))
		excess := 15 * 12 * 12 / (km * 8)
		assert.InDelta(t, wantSD, sd, 5*wantSD/2*math.Sqrt((2+excess)/n))
	}
	assert.Len(t, at, 10)
	for _, d := range days(10) {
		assert.Equal(t, 400, at[d])
	}
}

// TestThoseThatTravelOtherwise: rest adds its mean to the days of its share, the
// second kind has its own drift; within 5 standard errors of 4,000 fish.
func TestThoseThatTravelOtherwise(t *testing.T) {
	mean := func(set func(*simulate.Truth)) float64 {
		truth := timedTruth(4000, 1, 1)
		set(&truth)
		require.NoError(t, truth.Check())
		h := truth.Draw(44, 1).Histories
		var sum float64
		for i := range h.Len() {
			sum += float64(h.First[2*i]-h.Released[i]) / float64(day.Milliseconds())
		}
		return sum / float64(h.Len())
	}
	// No standard deviation is above 15 days; the first reach takes 40/8 days.
	const near = 5 * 15 / 63.2
	assert.InDelta(t, 5+0.5*20, mean(func(x *simulate.Truth) { x.Cohorts[0].Movement.Rest, x.Cohorts[0].Movement.RestDays = 0.5, 20 }), near)
	assert.InDelta(t, 5+0.5*80/8, mean(func(x *simulate.Truth) { x.Cohorts[0].Movement.Rest, x.Cohorts[0].Movement.RestKm = 0.5, 80 }), near)
	assert.InDelta(t, 0.5*5+0.5*40/2, mean(func(x *simulate.Truth) { x.Violations.Second = simulate.Mixture{Share: 0.5, Drift: 2} }), 2*near)
}

// TestAsOfIsWhatWasKnown: fish released later are no part of the sample, later
// sightings are not known and fish taken out later still at large; the share
// that passes is that at the season's end, and of fish passed those by then.
func TestAsOfIsWhatWasKnown(t *testing.T) {
	truth := timedTruth(1000, 0.8, 1)
	truth.Cohorts[0].Removed = []float64{0, 0.5, 0}
	whole := truth.Draw(42, 1)
	truth.AsOf = firstDay.Add(7*day + time.Hour)
	require.NoError(t, truth.Check())
	s := truth.Draw(42, 1)
	end := truth.AsOf.UnixMilli()
	assert.Equal(t, 800, s.Histories.Len(), "eight of ten days' fish are released")
	assert.Equal(t, 800, s.Entered[0][2])
	assert.InDelta(t, 0.8, s.Share[0][1], 1e-12)
	assert.InDelta(t, 0.64, s.Share[0][2], 1e-12)
	var seen [2]int
	late, removed := 0, 0
	for i := range s.Histories.Len() {
		assert.LessOrEqual(t, s.Histories.Released[i], end)
		for b := range 2 {
			known, came := s.Histories.First[2*i+b], whole.Histories.First[2*i+b]
			if came != history.NoTime && came <= end {
				seen[b]++
				assert.Equal(t, came, known)
			} else {
				assert.Equal(t, int64(history.NoTime), known)
				assert.Zero(t, s.Histories.Seen[i]>>uint(b)&1)
			}
		}
		if whole.Histories.End[i] == history.Removed {
			if whole.Histories.First[2*i] > end {
				late++
				assert.Equal(t, history.Open, s.Histories.End[i])
			} else {
				removed++
				assert.Equal(t, history.Removed, s.Histories.End[i])
			}
		}
	}
	// Every fish is detected here, so that those passed by as_of are counted.
	assert.Equal(t, seen[0], s.Passed[0][1])
	assert.Equal(t, seen[1], s.Passed[0][2])
	assert.Less(t, s.Passed[0][1], whole.Passed[0][1]*8/10)
	assert.Greater(t, late, 20)
	assert.Greater(t, removed, 20)
}

// TestTruthOfRunningFit: what is taken for true of a season that still runs is
// what the fit says of survival, detection and movement, with the fish let go
// when they were, and up to the same moment.
func TestTruthOfRunningFit(t *testing.T) {
	truth := timedTruth(600, 0.8, 0.5)
	truth.AsOf = firstDay.Add(12 * day)
	fast := truth.Cohorts[0]
	fast.Name, fast.Movement.Drift, fast.Released = "fast", 16, days(3)
	truth.Cohorts = append(truth.Cohorts, fast)
	s := truth.Draw(43, 1)
	p, err := model.Build(model.Input{Histories: s.Histories, AsOf: truth.AsOf}, model.Spec{Survival: "reach", Detection: "same", Drift: "cohort"})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	got := simulate.TruthOf(f)
	require.NoError(t, got.Check())
	assert.True(t, truth.AsOf.Equal(got.AsOf))
	require.Len(t, got.Cohorts, 2)
	require.Len(t, f.Movement, 2)
	for i, c := range got.Cohorts {
		assert.Equal(t, c.Name, f.Movement[i].Of[0].Level)
		assert.InDelta(t, f.Movement[i].Drift.Value, c.Movement.Drift, 1e-12)
		assert.InDelta(t, f.Movement[i].Spread.Value, c.Movement.Spread, 1e-12)
		for k := range 2 {
			assert.InDelta(t, f.Probability(i, p.Layout.Survival(k), []float64{1}), c.Survival[k], 1e-12)
		}
		var own []int64
		for r := range s.Histories.Len() {
			if s.Histories.Cohorts[s.Histories.Cohort[r]] == c.Name {
				own = append(own, s.Histories.Released[r])
			}
		}
		slices.Sort(own)
		released := slices.Sorted(slices.Values(c.Released))
		assert.Equal(t, own, released)
		assert.Equal(t, len(own), c.Fish)
	}
	assert.Greater(t, got.Cohorts[1].Movement.Drift, got.Cohorts[0].Movement.Drift+4)
}

// TestRunningStudy: the running fits of a season are held to its end: without
// bias (0.1 SD + 4 Monte Carlo standard errors), though many fish are
// still on their way.
func TestRunningStudy(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	truth := timedTruth(600, 0.7, 0.6)
	truth.AsOf = firstDay.Add(16 * day)
	s := simulate.Study{Truth: truth, Seed: 202560, Spec: model.Spec{Survival: "same", Detection: "same"}}
	s.Options.EstimatesOnly = true
	r, err := s.Run(context.Background(), 1, 20, nil)
	require.NoError(t, err)
	require.Empty(t, r.Failed)
	q := quantityOf(t, r, "passed", "", "Tidehead")
	assert.Equal(t, 20, q.Intervals)
	assert.InDelta(t, 0.49, q.Truth, 1e-9)
	assert.Less(t, math.Abs(q.Bias), 0.1*q.SD+4*q.BiasSE)
	known := truth.Draw(s.Seed, 1)
	assert.Less(t, float64(known.Passed[0][2]), 0.9*0.49*600)
}

func TestTimesThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		set  func(*simulate.Truth)
		want string
	}{
		{func(x *simulate.Truth) { x.Cohorts[0].Released = nil; x.AsOf = firstDay }, "needs cohorts with times"},
		{func(x *simulate.Truth) { x.Cohorts = append(x.Cohorts, x.Cohorts[0]); x.Cohorts[1].Released = nil }, "all have"},
		{func(x *simulate.Truth) { x.Cohorts[0].Movement.Spread = 0 }, "no movement"},
		{func(x *simulate.Truth) { x.Cohorts[0].Movement.Rest = 1.5 }, "share that rests"},
		{func(x *simulate.Truth) { x.Cohorts[0].Movement.RestDays = -1 }, "at least 0"},
		{func(x *simulate.Truth) { x.River.Sites[1].Km = math.NaN() }, "has no length"},
	} {
		truth := timedTruth(10, 0.8, 0.5)
		c.set(&truth)
		assert.ErrorContains(t, truth.Check(), c.want)
	}
}
