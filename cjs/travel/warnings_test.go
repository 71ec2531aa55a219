package travel

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/warncheck"
	"example.org/unseen/history"
)

// TestEveryWarningHasItsLimit: what lies just beyond the limit of each ID is
// warned about, what lies just within is not.
func TestEveryWarningHasItsLimit(t *testing.T) {
	h := handMade()
	said := func(asOf int64, s Stretch) []cjs.Warning {
		s.From, s.To, s.Cohort = 1, 2, All
		r := &Result{Options: Options{AsOf: asOf}, Stretches: []Stretch{s}}
		r.warn(h)
		return r.Warnings
	}
	idle := func(s Stretch, a Arrival, w ...cjs.Working) []cjs.Warning {
		s.From, s.To, s.Cohort = 0, 1, All
		a.Site, a.Cohort = 1, All
		r := &Result{Options: Options{Working: w}, Stretches: []Stretch{s}, Arrivals: []Arrival{a}}
		r.warn(h)
		return r.Warnings
	}
	two := []cjs.Working{{Site: 1, Share: 0.6}, {Site: 1, Row: 1, Share: 0.7}}
	hidden := func(share float64) Stretch {
		l := &Law{Drift: cjs.Estimate{Value: 6, High: 7, Status: cjs.Estimated}, Verdict: cjs.Converged, Hidden: share}
		return Stretch{Law: l}
	}
	sound := func() *Law {
		return &Law{Drift: cjs.Estimate{Value: 6, High: 7, Status: cjs.Estimated}, Verdict: cjs.Converged, Check: Check{PHigh: 0.5, ChiSquare: 9, Classes: 10}}
	}
	law := func(change func(l *Law)) *Law {
		l := sound()
		change(l)
		return l
	}
	early := law(func(l *Law) { l.Drift = cjs.Estimate{High: 6.5, Status: cjs.Absent} })
	for _, c := range []struct {
		id          string
		raise, near []cjs.Warning
		facts       []string
	}{
		{WarnFast, said(0, Stretch{KmPerDay: history.Summary{Max: 101}}), said(0, Stretch{KmPerDay: history.Summary{Max: 99}}), []string{"101", "100", "Scar Weir to Tidehead"}},
		{WarnNotTimed, said(0, Stretch{NotTimed: 1}), said(0, Stretch{}), []string{"1 fish", "Scar Weir to Tidehead"}},
		{WarnAsOf, said(20*dayMs, Stretch{Law: law(func(l *Law) { l.Hidden = 0.011 })}), said(20*dayMs, Stretch{Law: law(func(l *Law) { l.Hidden = 0.009 })}), []string{"1970-01-21"}},
		{WarnAsOf, said(20*dayMs, Stretch{}), said(0, Stretch{}), nil},
		{WarnEarly, said(0, Stretch{Law: early}), said(0, Stretch{Law: sound()}), []string{"Scar Weir to Tidehead (6.5)"}},
		{WarnNoFit, said(0, Stretch{Law: law(func(l *Law) { l.Verdict = cjs.NotConverged })}), said(0, Stretch{Law: early}), nil},
		{WarnLaw, said(0, Stretch{Law: law(func(l *Law) { l.Check.PHigh = 0.009 })}), said(0, Stretch{Law: law(func(l *Law) { l.Check.PHigh = 0.011 })}), []string{"9.0", "10", "0.01"}},
		{WarnLaw, said(0, Stretch{Law: law(func(l *Law) { l.Check.PHigh = 0.0009 })}), said(0, Stretch{Law: law(func(l *Law) { l.Check.PHigh = math.NaN() })}), []string{"0.001"}},
		{WarnHidden, idle(hidden(0.213), Arrival{}, two...), idle(hidden(0.009), Arrival{}, two...), []string{"Scar Weir", "21 %"}},
		{WarnHidden, idle(hidden(0.213), Arrival{}, two...), idle(hidden(0.213), Arrival{}), nil},
		{WarnOutage, idle(Stretch{WhyNoLaw: "the study gives no km"}, Arrival{}, two...), idle(hidden(0.213), Arrival{}, two...), []string{"Scar Weir", "no km"}},
		{WarnOutage, idle(hidden(0), Arrival{Why: "most were hidden"}, two...), idle(hidden(0), Arrival{}, two...), []string{"most were hidden"}},
		{WarnOutage, idle(Stretch{Law: early}, Arrival{}, two...), idle(Stretch{Law: early}, Arrival{}), nil},
	} {
		warncheck.Raised(t, cjs.Warning{ID: c.id}, c.raise, c.near, c.facts)
	}
	// The observed quantiles are of the fast fish alone while others are on their way.
	poor := Stretch{Law: law(func(l *Law) { l.Check.PHigh = 0.009; l.Hidden = 0.02 })}
	assert.Contains(t, said(0, poor)[0].Message, "Use the observed quantiles")
	both := said(20*dayMs, poor)
	require.Len(t, both, 2)
	assert.NotContains(t, both[1].Message, "Use the observed quantiles")
	// Many stretches are one warning.
	many := &Result{}
	for i := range 10 {
		many.Stretches = append(many.Stretches, Stretch{From: i % 2, To: i%2 + 1, Cohort: All, Law: early})
	}
	many.warn(h)
	require.Len(t, many.Warnings, 1)
	assert.Contains(t, many.Warnings[0].Message, "; and 2 more.")
	// Of a cohort the speed and the lacking times are not said again.
	r := &Result{Stretches: []Stretch{{From: 1, To: 2, Cohort: 0, NotTimed: 1, KmPerDay: history.Summary{Max: 200}}}}
	r.warn(h)
	assert.Empty(t, r.Warnings)
}
