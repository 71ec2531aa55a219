//go:build studies

package replicate_test

import (
	"context"
	"flag"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/simulate"
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

var full = flag.Bool("full", false, "run all studies of intervals")

// How often bootstrap intervals cover what passes where the last site stood still while
// four in ten of the fish passed, and on a day of a running season with many fish
// still under way: with -full 100 studies of 1,600 fish each, 200 replicates each, of
// which docs/simulation.md tells the numbers; else 25 of 100. Limit for all fish, fixed
// before the first run: 95 % less 3 binomial standard errors; what is withheld does not
// count.
func TestCoverageWithTimes(t *testing.T) {
	const day = 24 * time.Hour
	for name, asOf := range map[string]time.Time{"outage": {}, "season runs": outageStart.Add(12 * day)} {
		t.Run(name, func(t *testing.T) {
			truth := outageTruth()
			if !asOf.IsZero() {
				truth.Working = nil
			}
			coverageWithTimes(t, &truth, asOf, 0.7*0.65)
		})
	}
}

func coverageWithTimes(t *testing.T, truth *simulate.Truth, asOf time.Time, want float64) {
	studies, replicates := 25, 100
	if *full {
		studies, replicates = 100, 200
	}
	type score struct{ of, bootstrap, given, before int }
	scores := map[string]*score{}
	add := func(n *int, low, high float64) {
		if low <= want && want <= high {
			*n++
		}
	}
	for i := range uint64(studies) {
		f := outageFit(t, truth, 1000+i, asOf)
		before := f.Followed()
		set, err := replicate.Run(context.Background(), f, 1, replicates, replicate.Options{Seed: 500 + i})
		if err != nil {
			t.Fatal(err)
		}
		sum, err := set.Apply(f)
		if err != nil {
			t.Fatal(err)
		}
		for j, w := range f.Followed() {
			if w.Kind != "passed" || w.Site != 2 {
				continue
			}
			e := &sum.Estimates[j]
			s := scores[e.Name]
			if s == nil {
				s = &score{}
				scores[e.Name] = s
			}
			s.of++
			add(&s.bootstrap, e.CorrectedLow, e.CorrectedHigh)
			add(&s.given, w.Low, w.High)
			add(&s.before, before[j].Low, before[j].High)
		}
	}
	for name, s := range scores {
		t.Logf("%s: %+v", name, *s)
	}
	all := scores["passed Tidehead"]
	n := float64(all.of)
	assert.Greater(t, n, 0.8*float64(studies))
	limit := n * (0.95 - 3*math.Sqrt(0.95*0.05/n))
	assert.GreaterOrEqual(t, float64(all.bootstrap), limit)
	assert.GreaterOrEqual(t, float64(all.given), limit)
}
