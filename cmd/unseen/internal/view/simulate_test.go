package view

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/simulate"
)

// TestUnansweredWords: what gave no interval is told, and why it counts or not.
func TestUnansweredWords(t *testing.T) {
	assert.Empty(t, unansweredWords(&simulate.Quantity{Intervals: 5}))
	assert.Equal(t, "Counted as not covered: 12 replicates without an interval although the data hold information.",
		unansweredWords(&simulate.Quantity{Missed: 12}))
	assert.Equal(t, "Counted as not covered: 2 replicates without an interval although the data hold information. Left out: 1 replicate whose data hold no information on it.",
		unansweredWords(&simulate.Quantity{Missed: 2, Impossible: 1}))
}

// TestOneReplicateTellsNoBias: a bias needs a spread to be held against.
func TestOneReplicateTellsNoBias(t *testing.T) {
	words := func(given int) string {
		q := simulate.Quantity{Kind: "passed", At: "Tidehead", Given: given, Intervals: 2, Bias: 0.1}
		r := &simulate.Result{Quantities: []simulate.Quantity{q}}
		return simulateWords(&analysis.Simulated{Result: r, Study: &simulate.Study{}})[1]
	}
	assert.Contains(t, words(2), "10.0 points too high")
	assert.NotContains(t, words(1), "too high")
}
