package main

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/likelihood/passtime"
)

// outages is the record of the study of outages.
type outages struct {
	Seed, Fish int
	All        []outage
}

type outage struct {
	Design     string
	Replicates int
	Warned     map[string]int
	Passed     []struct {
		Of, At                     string
		Intervals, Covered, Silent int
		Truth, Bias, SD, Width     float64
	}
}

func outageRecord(t *testing.T) (r outages) {
	fromJSON(t, "../../testdata/studies/season-outages.json", &r)
	require.NotEmpty(t, r.All)
	return r
}

// lastSite says of a design the mean estimate of what passed the last site, and how
// often its interval covered.
func (r *outages) lastSite(t *testing.T, design string) string {
	for _, q := range r.All {
		if q.Design == design {
			p := q.Passed[2]
			require.Equal(t, "Tidehead", p.At+p.Of)
			return fmt.Sprintf("%.1f and %.1f", 100*(p.Truth+p.Bias), 100*float64(p.Covered)/float64(q.Replicates))
		}
	}
	t.Fatalf("no design %q", design)
	return ""
}

// idleAtLast is the share of the passages of the last site from day 21 to 29: fish
// let go at noon of 15 days, 110 km above, at 6 km/day and 9 km/√day.
func idleAtLast() (share float64) {
	law := passtime.Law{Km: 110, Drift: 6, Spread: 9}
	for day := range 15 {
		share += (law.CDF(29-float64(day)-0.5) - law.CDF(21-float64(day)-0.5)) / 15
	}
	return share
}

// outageLines are the study of outages.
func outageLines(t *testing.T, b *strings.Builder) {
	r := outageRecord(t)
	fmt.Fprintf(b, `
### Outages

%d fish released on 15 days; sites 40, 75 and 110 km below, to which they come on days 14, 20 and 25 on average; survival .85, detection .6, 80 test passes at the last site. Some row stands still as named, and the study says so with working windows. Shares of all fish, or of each of five cohorts, that passed a site; intervals by profile likelihood, without an outage those that auto takes. The designs have the same fish, so that what chance did to one it did to all; *none* are their fits without an outage. *Silent*: the interval does not cover and no warning concerns the estimate. *Early*: replicates in which some share had an interval but no point ([too-early](../../docs/convergence.md#too-early)); bias is of all points, also those withheld. Limits: intervals 93 %% at least − 2 Monte Carlo standard errors, |bias| for all fish below 0.1 SD + 3 standard errors, but, as with [thin data](#thin-data), where more than 10 %% of the replicates have an estimate at 0 or 1 (with five cohorts the limit was missed in the first 1,000 replicates, and the exception, which this test had left out, was added then: survival of a cohort cannot pass 1, which pulls the last site down, without an outage too); where a fifth of the fish rest for four days, or three in ten have twice the speed, which breaks the law of travel, at most 10 %% silent (cjs/simulate TestOutageStudy). In an earlier run with these seeds only what had to do with the outage had its interval by profile, and one line missed by one replicate (91.3 %% at Alder Ford, *last, for good*): there [choosing the interval by the data](../../docs/methods.md#standard-errors-and-intervals) costs coverage. Seed %d.

| outage | replicates | early %% | site | truth %% | bias/SD | intervals %% | silent %% | mean width |
| --- | --- | --- | --- | --- | --- | --- | --- | --- |
`, r.Fish, r.Seed)
	for _, q := range r.All {
		share := func(n int) float64 { return 100 * float64(n) / float64(q.Replicates) }
		for _, p := range q.Passed {
			if p.Of != "" {
				continue
			}
			low, high := math.Inf(1), math.Inf(-1)
			for _, c := range q.Passed {
				if c.Of != "" && c.At == p.At {
					low, high = min(low, share(c.Covered)), max(high, share(c.Covered))
				}
			}
			covered := fixed(share(p.Covered), 1)
			if low <= high {
				covered += fmt.Sprintf("; cohorts %s–%s", fixed(low, 1), fixed(high, 1))
			}
			fmt.Fprintf(b, "| %s | %d | %s | %s | %s | %s | %s | %s | %s |\n", q.Design, q.Replicates, fixed(share(q.Warned["too-early"]), 1), p.At, fixed(100*p.Truth, 1), fixed(p.Bias/math.Max(p.SD, 1e-9), 2),
				covered, fixed(share(p.Silent), 1), fixed(100*p.Width, 1))
		}
	}
	fmt.Fprintf(b, `
An earlier prototype, of which no code is kept, had with 600 fish and 80 test passes on a river of its own, truth 61.4 %%: the last site idle for 47 %% of the passages, mean 60.9 %% and 95.0 %% covered (outage not declared: 32.5 and 0), here, idle for %.0f %%, %s; idle for good, 61.3 and 97.0, here %s; five cohorts, 61.8 and 94.7, here %s; an inner site and the last, 61.9 and 96.0, here %s.
`, 100*idleAtLast(), r.lastSite(t, "last, eight days"), r.lastSite(t, "last, for good"), r.lastSite(t, "last, five cohorts"), r.lastSite(t, "first and last"))
	oneLawLines(t, b)
}

// oneLawLines are the study of the tests of one law of travel.
func oneLawLines(t *testing.T, b *strings.Builder) {
	var r struct {
		Seed, Replicates int
		Designs          []struct {
			Design                  string
			Rejected, Speeds, Rests int
		}
	}
	fromJSON(t, "../../testdata/studies/season-one-law.json", &r)
	fmt.Fprintf(b, `
### One law for all fish

How often [travel-law-doubtful](../../docs/convergence.md#travel-law-doubtful) is told in the designs above, by its test of speeds and that of rests; %d replicates each, seed %d. Limits: at most 2 %% where one law holds (1 %% and 3 Monte Carlo standard errors), at least 90 %% of two speeds and 30 %% where fish rest (cjs/simulate TestOneLawStudy). Pilot runs with other fish (200 replicates) chose these two tests of three.

| outage | told %% | speeds %% | rests %% |
| --- | --- | --- | --- |
`, r.Replicates, r.Seed)
	for _, q := range r.Designs {
		share := func(n int) string { return fixed(100*float64(n)/float64(r.Replicates), 1) }
		fmt.Fprintf(b, "| %s | %s | %s | %s |\n", q.Design, share(q.Rejected), share(q.Speeds), share(q.Rests))
	}
}
