package growth

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
)

// Species written as 1 and 2 are two species, and fish without one, or of too
// few, are held to no line and counted.
func TestSpeciesOfNumbers(t *testing.T) {
	h := school(46)
	code := make([]float64, 46)
	for i := range code {
		code[i] = float64(1 + i%2)
		h.Columns[1].Value[i] *= 1 + 0.5*float64(i%2)
	}
	code[39], code[38], code[0], code[2] = math.NaN(), math.NaN(), 7, 7
	h.Columns[1].Value[38] = math.NaN() // not weighed: there is nothing to hold to a line
	h.Columns = append(h.Columns, history.Column{Name: "species", Value: code})
	r, err := New(h, nil, Options{})
	require.NoError(t, err)
	require.Len(t, r.Lines, 2)
	assert.Equal(t, []string{"1", "2"}, []string{r.Lines[0].Species, r.Lines[1].Species})
	assert.Equal(t, []int{20, 22}, []int{r.Lines[0].Fish, r.Lines[1].Fish})
	assert.InDelta(t, 1.5, r.Lines[1].Weight(140)/r.Lines[0].Weight(140), 0.1, "the weights of the second were made half as much again")
	assert.Equal(t, 3, r.NoLine, "two of species 7, one of none")
	assert.Equal(t, 1, r.NoSpecies)
}

// A harmonic mean is of positive numbers: with fish that shrank there is none.
func TestNoHarmonicMeanOfNegatives(t *testing.T) {
	assert.InDelta(t, 4.0/3, history.Summarise([]float64{1, 2}, nil).HarmonicMean, 1e-12)
	assert.Zero(t, history.Summarise([]float64{0, 2}, nil).HarmonicMean)
	for _, x := range [][]float64{{-1, 0, 2}, {-1, 1}, {-2, -1}} {
		assert.True(t, math.IsNaN(history.Summarise(x, nil).HarmonicMean), "%v", x)
	}
}
