package cjs

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// TestPassedSoFarBelowSeen: while the season runs it is what has passed so far
// that cannot be less than was seen; what will have passed may be known only as
// an interval, or lie above.
func TestPassedSoFarBelowSeen(t *testing.T) {
	row := func(site int, seen float64, soFar, whole Estimate) Passed {
		return Passed{Site: site, SeenShare: Estimate{Value: seen}, SoFar: soFar, PassedShare: whole}
	}
	between := func(low, v, high float64) Estimate { return Estimate{Value: v, Low: low, High: high} }
	f := &Fit{machine: &machine{running: &running{}}, Problem: &model.Problem{Histories: &history.Histories{River: history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Tidehead"}}}}},
		Passed: []Passed{
			row(1, 0.4, between(0.2, 0.3, 0.35), between(0.5, 0.6, 0.7)),
			row(2, 0.4, between(0.3, 0.35, 0.41), between(0.2, 0.3, 0.39)),
			row(2, 0.4, NoEstimate(Inseparable), NoEstimate(Inseparable)),
		}}
	f.warnPassedBelowSeen()
	require.Len(t, f.Warnings, 1)
	assert.Contains(t, f.Warnings[0].Message, "than were seen: Alder Ford (seen 40.0 %, passed so far 20.0–35.0 %).")
	f.running, f.Warnings = nil, nil
	f.warnPassedBelowSeen()
	require.Len(t, f.Warnings, 1)
	assert.Contains(t, f.Warnings[0].Message, "than were seen: Tidehead (seen 40.0 %, passed 20.0–39.0 %).")
}
