package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/simulate"
)

// thinLines are the study of thin data: a line for each design.
func thinLines(t *testing.T, b *strings.Builder) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/studies/thin.json")
	require.NoError(t, err)
	var records []studyRecord
	require.NoError(t, json.Unmarshal(raw, &records))
	require.NotEmpty(t, records)
	fmt.Fprintf(b, `
### Thin data

%d designs of %d replicates, %s, with the intervals a user gets (auto); the truth of each replicate is drawn within 0.02 of the design's. Judged is passed %% of all fish at each site, in replicates without a warning about that estimate (*doubted* are the others); a replicate without an answer though its sample could tell counts as not covered. A line gives the range over the sites, in brackets where fewer than 200 replicates are judged at one. Limits: coverage 93 to 97.5 %% ± 2 Monte Carlo standard errors, only the lower one where the truth is at a bound, fewer than 5 deaths or misses are expected, or there are 30 fish (then the coverage of the likelihood-ratio interval of a plain binomial less 1 point, if lower); |bias| below 0.1 SD + 3 Monte Carlo standard errors, not at a bound or where more than 10 %% of replicates have something there; with ample data at most 5 %% doubted (cjs/simulate TestThin). Two earlier runs with other seeds were judged by the same limits, except that the 10 %% rule was added after the first, and auto changed after the second fell short in three lines (90.2, 91.5, 91.5 %%).

| design | doubted %% | missed | coverage %% | bias/SD |
| --- | --- | --- | --- | --- |
`, len(records), records[0].All.Replicates, fmt.Sprintf("seeds %d to %d", records[0].All.Seed, records[len(records)-1].All.Seed))
	for _, r := range records {
		all := func(one func(*simulate.Quantity) (v float64, judged bool), format string) string {
			low, high, few := math.Inf(1), math.Inf(-1), false
			for i := range r.All.Quantities {
				v, judged := one(&r.All.Quantities[i])
				if low, high = min(low, v), max(high, v); !judged {
					few = true
				}
			}
			out := fmt.Sprintf(format, low)
			if h := fmt.Sprintf(format, high); h != out {
				out += " to " + h
			}
			if few {
				out = "(" + out + ")"
			}
			return out
		}
		fmt.Fprintf(b, "| %s | %s | %s | %s | %s |\n", r.All.About,
			all(func(q *simulate.Quantity) (float64, bool) {
				return 100 - 100*float64(q.Undoubted.Intervals)/float64(r.All.Replicates-q.Impossible), true
			}, "%.1f"),
			all(func(q *simulate.Quantity) (float64, bool) { return float64(q.Missed), true }, "%.0f"),
			all(func(q *simulate.Quantity) (float64, bool) {
				n := q.Undoubted.Intervals + q.Missed
				return 100 * float64(q.Undoubted.Covered) / float64(max(n, 1)), n >= 200
			}, "%.1f"),
			all(func(q *simulate.Quantity) (float64, bool) { return q.Bias / q.SD, true }, "%+.2f"))
	}
	b.WriteString(`
Eight studies of thin data (complete separation by a number, additive cohorts with survival at 1, several maxima, a borrowed last site at its bound, a profile of 30 fish) agree with a likelihood written independently in NumPy and SciPy (testdata/hard/thin, its script kept there; cjs TestThinData): −2 ln L to 1e-6, estimates and profile limits to 1e-3.
`)
}
