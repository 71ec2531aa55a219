package maximum

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOpenDirection by hand: of (1, 0) and (1, 2) the widest margin for rows of
// length one lies half-way between them; opposite rows contradict each other,
// and a row of nothing itself.
func TestOpenDirection(t *testing.T) {
	y, against := openDirection([][]float64{{1, 0}, {0, 2}})
	require.Nil(t, against)
	// Half-way: (1, 1), scaled so that the lesser of 1·y and 2·y is 1.
	assert.InDeltaSlice(t, []float64{1, 1}, y, 1e-9)
	y, against = openDirection([][]float64{{1, 0}, {0, 1}, {-1, 0}})
	assert.Nil(t, y)
	assert.Equal(t, []int{0, 2}, against)
	y, against = openDirection([][]float64{{1, 0}, {0, 0}})
	assert.Nil(t, y)
	assert.Equal(t, []int{1}, against)
}

// TestOpenDirectionFinds: rows on one side of a hidden plane have a direction;
// with the negative sum of some of them added they contradict each other.
func TestOpenDirectionFinds(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 12))
	for range 200 {
		n, m := 2+rnd.IntN(5), 1+rnd.IntN(30)
		hidden := make([]float64, n)
		for i := range hidden {
			hidden[i] = rnd.NormFloat64()
		}
		var rows [][]float64
		for len(rows) < m {
			r := make([]float64, n)
			for i := range r {
				r[i] = rnd.NormFloat64()
			}
			if v := Dot(r, hidden); v > 0.01 || v < -0.01 {
				for i := range r {
					r[i] *= v
				}
				rows = append(rows, r)
			}
		}
		y, _ := openDirection(rows)
		require.NotNil(t, y)
		least := Dot(rows[0], y)
		for _, r := range rows {
			least = min(least, Dot(r, y))
		}
		assert.InDelta(t, 1, least, 1e-9)
		sum := make([]float64, n)
		for _, r := range rows[:1+rnd.IntN(m)] {
			for i, v := range r {
				sum[i] -= v
			}
		}
		y, against := openDirection(append(rows, sum))
		assert.Nil(t, y)
		assert.Contains(t, against, m)
	}
}
