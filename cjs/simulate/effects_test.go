package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestEffectStudies holds the committed studies of coefficients to their
// rules: |bias| below 0.1 SD + 3 Monte Carlo SE, 95 % intervals in the
// simultaneous 99.9 % band around 95 %; and the shares that passed under these
// models with them.
func TestEffectStudies(t *testing.T) {
	kinds := []string{"coefficient", "passed"}
	family := 0
	for _, s := range effectStudies() {
		family += len(watched(readRecord(t, s.Name).All, kinds))
	}
	for _, s := range effectStudies() {
		r := readRecord(t, s.Name).All
		assert.Equal(t, 2000, r.Replicates)
		assert.Empty(t, r.Failed, "%s: replicates that failed", s.Name)
		assert.Len(t, watched(r, []string{"coefficient"}), len(s.Coefficients), s.Name)
		broken, _ := biasRule(r, kinds...)
		assert.Empty(t, broken)
		broken, n := coverageRule(r, family, 0.95, 0.95, kinds...)
		assert.Empty(t, broken)
		assert.Greater(t, n, len(s.Coefficients))
	}
}
