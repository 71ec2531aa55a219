package simulate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOutageStudy holds the committed study to limits set before its run: the
// intervals of what passed, of all fish and of cohorts, cover the truth in 93 % at
// least, give or take two Monte Carlo standard errors, and the bias for all fish is
// below a tenth of the real spread and three such errors. Where the law of travel
// does not hold the interval covers or a warning concerns it in 90 % at least.
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
			assert.GreaterOrEqual(t, float64(q.Covered)/n, level-2*math.Sqrt(level*(1-level)/n), about)
			if q.Of == "" {
				assert.Less(t, math.Abs(q.Bias), (0.1+3/math.Sqrt(n))*q.SD, about)
			}
		}
	}
}
