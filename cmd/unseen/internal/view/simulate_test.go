package view

import (
	"testing"

	"github.com/stretchr/testify/assert"

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
