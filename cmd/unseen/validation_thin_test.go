package main

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// thinLines are the study of thin data: a line for each site of each design.
func thinLines(t *testing.T, b *strings.Builder) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/studies/thin.json")
	require.NoError(t, err)
	var records []studyRecord
	require.NoError(t, json.Unmarshal(raw, &records))
	require.NotEmpty(t, records)
	fmt.Fprintf(b, `
### Thin data

%d designs of %d replicates, %s, fitted with the intervals a user gets (auto). The truth of each replicate is drawn anew within 0.02 of the design's. Judged is passed %% of all fish at each site in the replicates without a warning about that estimate (*doubted* are the others), at least 200 (in brackets where there are fewer: not judged, and low, since these are the rare samples that look better than they are); a replicate without an answer though its sample could tell (*missed*) counts as not covered. Limits, fixed before the run: coverage 93 to 97.5 %% ± 2 Monte Carlo standard errors; where the truth lies at a bound, fewer than 5 deaths or misses are expected, or there are 30 fish, only the lower limit binds, and never below the coverage of the likelihood-ratio interval of a plain binomial of that size less 1 point; |bias| below 0.1 SD + 3 Monte Carlo standard errors, but not where the truth is at a bound or more than 10 %% of the replicates have something there (*median* is told for all); with ample data at most 5 %% doubted (cjs/simulate TestThin). The rule of the 10 %% was added, and the seeds were changed, when the first design of an earlier run had been seen. A whole later run fell short in three rows (90.2, 91.5 and 91.5 %%); the limits stayed, auto now leaves the logit scale below 40 fish dead or missed instead of 10, and the seeds were changed again. One design, 32 fish that a number separates, was left out for what it costs before the run told here.

| design | about | site | judged | doubted %% | missed | coverage %% | bias/SD | median error |
| --- | --- | --- | --- | --- | --- | --- | --- | --- |
`, len(records), records[0].All.Replicates, fmt.Sprintf("seeds %d to %d", records[0].All.Seed, records[len(records)-1].All.Seed))
	for _, r := range records {
		name, about := r.All.Study, r.All.About
		for _, q := range r.All.Quantities {
			n := q.Undoubted.Intervals + q.Missed
			coverage := "–"
			if n > 0 {
				coverage = fixed(100*float64(q.Undoubted.Covered)/float64(n), 1)
			}
			if n > 0 && n < 200 {
				coverage = "(" + coverage + ")"
			}
			doubted := 1 - float64(q.Undoubted.Intervals)/float64(r.All.Replicates-q.Impossible)
			fmt.Fprintf(b, "| %s | %s | %s | %d | %s | %d | %s | %+.2f | %+.4f |\n", name, about, q.At, n, fixed(100*doubted, 1), q.Missed, coverage, q.Bias/q.SD, q.Undoubted.MedianError)
			name, about = "", ""
		}
	}
	b.WriteString(`
Eight studies of thin data (complete separation by a number, additive cohorts with survival at 1, several maxima, a borrowed last site at its bound, a profile of 30 fish) are held to an independent likelihood in NumPy and SciPy: −2 ln L to 1e-6, estimates and profile limits to 1e-3 (testdata/hard/thin, its script kept there; cjs TestThinData).
`)
}
