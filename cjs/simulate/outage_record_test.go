package simulate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
)

// TestOutageStudy holds the committed study to limits set before its run: the
// intervals of what passed, of all fish and of cohorts, cover the truth in 93 % at
// least, give or take two Monte Carlo standard errors, and the bias for all fish is
// below a tenth of the real spread and three such errors, though not where, as in
// the study of thin data, more than a tenth of the replicates have an estimate at 0
// or 1: with five cohorts their survival may not pass 1, which pulls the last site
// down, without an outage too. Where the law of travel does not hold the interval
// covers or a warning concerns it in 90 % at least.
// Intervals by profile likelihood may cover more than their level.
func TestOutageStudy(t *testing.T) {
	const level, lawless = 0.93, 0.9
	for i, r := range readOutages(t).All {
		o := &outageDesigns[i]
		require.Equal(t, o.name, r.Design)
		assert.Empty(t, r.Failed, r.Design)
		n := float64(r.Replicates)
		for _, q := range r.Passed {
			about := r.Design + ": " + q.At + " " + q.Of
			assert.Equal(t, r.Replicates, q.Intervals, about)
			if o.law != "" {
				assert.LessOrEqual(t, float64(q.Silent)/n, 1-lawless, about)
				continue
			}
			least := level - 2*math.Sqrt(level*(1-level)/n)
			assert.GreaterOrEqual(t, float64(q.Covered)/n, least, about)
			if q.Of == "" && float64(r.Warned[cjs.WarnBoundary])/n <= 0.1 {
				assert.Less(t, math.Abs(q.Bias), (0.1+3/math.Sqrt(n))*q.SD, about)
			}
		}
	}
}
