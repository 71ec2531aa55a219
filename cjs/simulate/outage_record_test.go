package simulate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOutageStudy holds the committed study to limits set before its run: the
// intervals of what passed, of all fish, cover the truth in 93 % at least, give
// or take two Monte Carlo standard errors (a law of travel that does not hold:
// 90 %), and the bias is below a tenth of the real spread and three such errors.
// Intervals by profile likelihood may cover more than their level.
func TestOutageStudy(t *testing.T) {
	for i, r := range readOutages(t).All {
		o := &outageDesigns[i]
		require.Equal(t, o.name, r.Design)
		assert.Empty(t, r.Failed, r.Design)
		level := 0.93
		if o.law != "" {
			level = 0.9
		}
		for _, q := range r.Passed {
			if q.Of != "" {
				continue
			}
			n := float64(r.Replicates)
			assert.Equal(t, r.Replicates, q.Intervals, "%s: %s", r.Design, q.At)
			assert.GreaterOrEqual(t, float64(q.Covered)/n, level-2*math.Sqrt(level*(1-level)/n), "%s: %s", r.Design, q.At)
			if o.law == "" {
				assert.Less(t, math.Abs(q.Bias), 0.1*q.SD+3*q.BiasSE, "%s: %s", r.Design, q.At)
			}
		}
	}
}
