package cjs_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Cohorts that share nothing have the intervals that each has alone, at bounds
// too.
func TestCohortsThatShareNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	h := fishOf(6, 6, 24_000, func(c, k int) float64 { return 0.75 + 0.25*float64((c+k)%2) })
	opt := cjs.Options{Interval: "profile"}
	all := mustFit(t, model.Input{Histories: h}, model.Spec{Survival: "reach by cohort", Detection: "site by cohort"}, opt)
	require.Greater(t, all.Parameters, 40)
	bounds := 0
	same := func(a, b cjs.Estimate) {
		assert.Equal(t, a.Status, b.Status)
		for _, x := range [][2]float64{{a.Low, b.Low}, {a.High, b.High}} {
			if !math.IsNaN(x[0]) || !math.IsNaN(x[1]) {
				// An end is good to where the log-likelihood is within 1e-6 of
				// the limit.
				assert.InDelta(t, x[0], x[1], 2e-6)
			}
		}
		if a.Status == cjs.Boundary {
			bounds++
		}
	}
	for c, name := range h.Cohorts {
		own := &history.Histories{River: h.River, Cohorts: []string{name}}
		for i := range h.Len() {
			if int(h.Cohort[i]) == c {
				own.Entry, own.Seen, own.End = append(own.Entry, h.Entry[i]), append(own.Seen, h.Seen[i]), append(own.End, h.End[i])
				own.Cohort, own.Count = append(own.Cohort, 0), append(own.Count, h.Count[i])
			}
		}
		alone := mustFit(t, model.Input{Histories: own}, model.Spec{Survival: "reach", Detection: "site"}, opt)
		for k := range 5 {
			same(alone.Survival[k].Estimate, all.Survival[c*5+k].Estimate)
			same(alone.Detection[k].Estimate, all.Detection[c*5+k].Estimate)
			same(alone.Passed[k].PassedShare, all.Passed[5+c*5+k].PassedShare)
			same(alone.Passed[k].PassedFish, all.Passed[5+c*5+k].PassedFish)
		}
	}
	assert.Greater(t, bounds, 5)
}
