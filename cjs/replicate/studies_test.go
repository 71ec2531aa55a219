//go:build studies

package replicate_test

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/replicate"
)

// How often intervals of passed % at the last site hold the truth where it is
// estimated at or near 1: those that --interval bootstrap gives are those of the
// profile, while what the replicates themselves say (bias-corrected) seldom
// does. 120 studies of 60 fish, 200 replicates each; docs/simulation.md tells
// the numbers.
func TestCoverageAtTheEdge(t *testing.T) {
	truth := edgeTruth()
	want := 0.97 * 0.96 * 0.95
	type score struct{ all, edge, ofAll, ofEdge int }
	var profile, given, raw score
	for i := range uint64(120) {
		opt := cjs.Options{Interval: "profile"}
		byProfile := edgeFit(t, &truth, i, opt)
		f := edgeFit(t, &truth, i, cjs.Options{})
		if f.Verdict != cjs.Converged {
			continue
		}
		s, err := replicate.Run(context.Background(), f, 1, 200, replicate.Options{Seed: 100 + i})
		if err != nil {
			t.Fatal(err)
		}
		sum, err := s.Apply(f)
		if err != nil {
			t.Fatal(err)
		}
		at := len(f.Watched()) - 1 // passed at Tidehead
		w := f.Watched()[at]
		if w.Kind != "passed" || w.Site != 3 {
			t.Fatal(w)
		}
		edge := w.Value > 0.98
		add := func(s *score, low, high float64) {
			covered := low <= want && want <= high
			for _, x := range []struct {
				counts bool
				n, hit *int
			}{{true, &s.ofAll, &s.all}, {edge, &s.ofEdge, &s.edge}} {
				if x.counts {
					*x.n++
					if covered {
						*x.hit++
					}
				}
			}
		}
		p := byProfile.Watched()[at]
		add(&profile, p.Low, p.High)
		add(&given, w.Low, w.High)
		e := sum.Estimates[at]
		low, high := e.CorrectedLow, e.CorrectedHigh
		if math.IsNaN(low) {
			low, high = e.Low, e.High
		}
		add(&raw, low, high)
	}
	t.Logf("profile %+v, given %+v, replicates alone %+v", profile, given, raw)
	assert.Greater(t, given.ofEdge, 10, "there is an edge to speak of")
	assert.Equal(t, profile.edge, given.edge, "at the edge the coverage is that of the profile")
	assert.GreaterOrEqual(t, float64(given.edge), 0.85*float64(given.ofEdge))
	assert.GreaterOrEqual(t, float64(given.all), 0.9*float64(given.ofAll))
	assert.Less(t, float64(raw.edge), 0.5*float64(raw.ofEdge), "which replicates alone have not")
}

// How often bootstrap intervals cover what passed where the last site stood still
// while four in ten of the fish passed: 100 studies of 1,600 fish, 200 replicates each.
// Limit, fixed before the first run: 95 % less 3 binomial standard errors of 100.
func TestCoverageWithOutages(t *testing.T) {
	truth := outageTruth()
	want := 0.7 * 0.65
	const studies = 100
	var bootstrap, profile int
	for i := range uint64(studies) {
		f := outageFit(t, &truth, 1000+i, time.Time{})
		watched := f.Watched()
		at := -1
		for j, w := range watched {
			if w.Kind == "passed" && w.Site == 2 && len(w.Of) == 0 {
				at = j
			}
		}
		if watched[at].Low <= want && want <= watched[at].High {
			profile++
		}
		s, err := replicate.Run(context.Background(), f, 1, 200, replicate.Options{Seed: 500 + i})
		if err != nil {
			t.Fatal(err)
		}
		sum, err := s.Summarise(0.95)
		if err != nil {
			t.Fatal(err)
		}
		if e := sum.Estimates[at]; e.CorrectedLow <= want && want <= e.CorrectedHigh {
			bootstrap++
		}
	}
	t.Logf("of %d: bootstrap %d, profile %d", studies, bootstrap, profile)
	assert.GreaterOrEqual(t, float64(bootstrap), studies*(0.95-3*math.Sqrt(0.95*0.05/studies)))
}
