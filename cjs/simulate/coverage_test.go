package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs/simulate"
)

// coverageKinds are the estimates whose intervals are held to their level.
var coverageKinds = []string{"survival", "detection", "passed"}

// verdictOf tells whether a study's intervals keep their level: counts are
// adequate when every one lies in the simultaneous 99.9 % band around
// coverages from 94 to 96 %.
func verdictOf(r *simulate.Result, family int) (adequate bool, why []string) {
	why, _ = coverageRule(r, family, 0.94, 0.96, coverageKinds...)
	return len(why) == 0 && len(r.Failed) == 0, why
}

// inadequate are the designs whose counts are too small, or whose truth lies
// at a bound: their intervals miss their level, and the fit must say so.
var inadequate = map[string]bool{
	"all-survive": true, "all-seen": true, "faint-arrays-300": true,
	"small-weeks": true, "trial-10": true, "good-survival-100": true,
}

// TestCoverageStudies holds the committed coverage study to its rules.
func TestCoverageStudies(t *testing.T) {
	family := 0
	for _, s := range coverageStudies() {
		family += len(watched(readRecord(t, s.Name).All, coverageKinds))
	}
	assert.GreaterOrEqual(t, len(coverageStudies())-len(inadequate), 12)
	for _, s := range coverageStudies() {
		r := readRecord(t, s.Name).All
		assert.Equal(t, coverageReplicates, r.Replicates)
		adequate, why := verdictOf(r, family)
		share := float64(r.Doubted) / float64(r.Replicates)
		if inadequate[s.Name] {
			assert.False(t, adequate, "%s: the intervals keep their level", s.Name)
			assert.GreaterOrEqual(t, share, 0.90, "%s: the fit warns too seldom %v", s.Name, r.Warned)
		} else {
			assert.True(t, adequate, "%s: %v %v", s.Name, why, r.Failed)
			assert.LessOrEqual(t, share, 0.05, "%s: the fit warns too often %v", s.Name, r.Warned)
		}
	}
}
