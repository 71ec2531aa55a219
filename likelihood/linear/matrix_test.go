package linear

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSmallDiagonalsCount: a billionth of the largest is not zero.
func TestSmallDiagonalsCount(t *testing.T) {
	s, ok := Decompose([]float64{4, 0, 0, 4e-9}, 2)
	require.True(t, ok)
	assert.Equal(t, 2, s.Rank(1e-9))
	assert.InDeltaSlice(t, []float64{0.25, 0, 0, 0.25e9}, s.Inverse(1e-9), 1e-3)
	s, ok = Decompose([]float64{4, 0, 0, 4e-18}, 2)
	require.True(t, ok)
	assert.Equal(t, 1, s.Rank(1e-9))
}
