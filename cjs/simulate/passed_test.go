package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestPassedStudies holds the committed studies of the main job to their
// rules: |bias| of passed % and passed fish below 0.1 SD + 3 Monte Carlo SE,
// 95 % intervals in the simultaneous 99.9 % band around 95 %.
func TestPassedStudies(t *testing.T) {
	family := 0
	for _, s := range passedStudies() {
		family += len(watched(readRecord(t, s.Name).All, []string{"passed", "passed fish"}))
	}
	for _, s := range passedStudies() {
		r := readRecord(t, s.Name).All
		assert.Equal(t, 2000, r.Replicates)
		assert.Empty(t, r.Failed, "%s: replicates that failed", s.Name)
		broken, n := biasRule(r, "passed", "passed fish")
		assert.Empty(t, broken)
		assert.GreaterOrEqual(t, n, 24)
		broken, n = coverageRule(r, family, 0.95, 0.95, "passed", "passed fish")
		assert.Empty(t, broken)
		assert.GreaterOrEqual(t, n, 24)
	}
}
