package linear

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cohorts are the sets of indices of so many cohorts, each of size own and common
// to all; the own ones of a cohort are spread over the matrix.
func cohorts(count, own, common int) (sets [][]int, n int) {
	n = count*own + common
	for c := range count {
		var set []int
		for i := range own {
			set = append(set, c+i*count)
		}
		for i := range common {
			set = append(set, count*own+i)
		}
		sets = append(sets, set)
	}
	return sets, n
}

// A solution by the arrow is that by the whole matrix: of one that is positive
// definite, of one with negative and zero elements on its diagonal, and of one
// that only a larger ridge makes so.
func TestArrowSolvesAsTheWholeDoes(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 9))
	for _, common := range []int{0, 4} {
		sets, n := cohorts(9, 5, common)
		o := NewArrow(sets, n)
		require.NotNil(t, o)
		assert.Len(t, o.border, common)
		assert.Len(t, o.blocks, 9)
		definite, not := 0, 0
		for round := range 60 {
			a := make([]float64, n*n)
			for _, set := range sets {
				for range 8 {
					v := make([]float64, n)
					for _, i := range set {
						v[i] = rnd.NormFloat64()
					}
					for _, i := range set {
						for _, j := range set {
							a[i*n+j] += v[i] * v[j]
						}
					}
				}
			}
			switch round % 4 {
			case 1: // curved the wrong way, with its own diagonal as it was
				for _, i := range sets[2][:2] {
					j := sets[2][2]
					a[i*n+j], a[j*n+i] = 3*a[i*n+j], 3*a[i*n+j]
				}
			case 2:
				a[sets[4][1]*(n+1)] *= -1
				if common > 0 {
					a[(n-1)*(n+1)] *= -1
				}
			case 3:
				for i := range n {
					a[i*n+7], a[7*n+i] = 0, 0
				}
			}
			b, c := make([]float64, n), make([]float64, n)
			for i := range n {
				b[i], c[i] = rnd.NormFloat64(), rnd.NormFloat64()
			}
			x, y, u, w := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
			ridge, yes := SolveRidge2(a, b, c, n, 1e-9, x, y)
			by, also := o.SolveRidge2(a, b, c, 1e-9, u, w)
			assert.Equal(t, yes, also)
			if yes {
				definite++
			} else {
				not++
			}
			if common == 0 && by > 1e-9 {
				continue // the whole raises the ridge block by block
			}
			assert.Equal(t, ridge, by)
			// 1e-9: rounding of solutions of a condition up to 1e4.
			assert.InDeltaSlice(t, x, u, 1e-9)
			assert.InDeltaSlice(t, y, w, 1e-9)
		}
		assert.Greater(t, definite, 20)
		assert.Greater(t, not, 20)
	}
}

// What is not an arrow, or too small a one to save anything, has none; an arrow
// has every place between indices of one set.
func TestNewArrow(t *testing.T) {
	assert.Nil(t, NewArrow([][]int{{0, 1, 2, 3}}, 4))
	assert.Nil(t, NewArrow([][]int{{0, 1}, {1, 2}, {2, 0}}, 3))
	sets, n := cohorts(6, 3, 2)
	sets = append(sets, []int{0, 6}) // another of the first cohort's
	o := NewArrow(sets, n)
	require.NotNil(t, o)
	for i := range n {
		for j := range n {
			together := i == j || slices.ContainsFunc(sets, func(set []int) bool { return slices.Contains(set, i) && slices.Contains(set, j) })
			assert.Equal(t, together, slices.ContainsFunc(o.Runs, func(r [2]int) bool { return r[0] <= i*n+j && i*n+j < r[1] }), "%d, %d", i, j)
		}
	}
	v := make([]float64, n)
	v[0], v[6], v[n-1] = 1, 2, 3
	assert.True(t, o.Within(v))
	v[1] = 1
	assert.False(t, o.Within(v))
}
