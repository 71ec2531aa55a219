package assess

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
)

// TestOneSet: in one set the statistic is that of Pearson times (n − 1)/n, the
// variance being that of sampling without replacement, for any number of columns;
// and the exact probability is Fisher's.
func TestOneSet(t *testing.T) {
	counts := [][]int{{20, 9, 14}, {11, 16, 25}}
	plain, set := Table{Counts: counts}, Table{Counts: counts, sets: [][][]int{counts}}
	plain.test()
	set.test()
	require.Equal(t, ChiSquare, set.Method)
	assert.Equal(t, 2, set.DF)
	assert.InDelta(t, plain.Statistic*94/95, set.Statistic, 1e-12)
	for c, e := range []float64{31 * 43.0 / 95, 25 * 43.0 / 95, 39 * 43.0 / 95} {
		assert.InDelta(t, e, set.Expected[c], 1e-12)
	}

	few := [][]int{{3, 1}, {1, 4}}
	set = Table{Counts: few, sets: [][][]int{few}}
	set.test()
	require.Equal(t, Exact, set.Method)
	assert.InDelta(t, cjs.FisherExact(3, 1, 1, 4), set.P, 1e-12)
}

// TestTwoSets: early fish are seen again, whatever their past, and late ones are
// not; most fish of the first line are early. Within sets the lines are alike, and
// the test says so where the table of all does not. The exact probability of few
// fish is that of all pairs of outcomes.
func TestTwoSets(t *testing.T) {
	early, late := [][]int{{36, 4}, {9, 1}}, [][]int{{1, 9}, {4, 36}}
	all := [][]int{{37, 13}, {13, 37}}
	apart, together := Table{Counts: all, sets: [][][]int{early, late}}, Table{Counts: all}
	apart.test()
	together.test()
	assert.InDelta(t, 0, apart.Statistic, 1e-12)
	assert.Less(t, together.P, 0.001)

	a, b := [][]int{{3, 0}, {1, 2}}, [][]int{{2, 1}, {0, 3}}
	few := Table{Counts: [][]int{{5, 1}, {1, 5}}, sets: [][][]int{a, b}}
	few.test()
	require.Equal(t, Exact, few.Method)
	// By hand: 4 of 6 and 2 of 6 seen again, lines of 3. The first cells have
	// 1, 2, 3 with 4, 12, 4 of 20 and 0, 1, 2 with 4, 12, 4 of 20; a sum of 5, as
	// of 1, has 16 of 400.
	assert.InDelta(t, 32.0/400, few.P, 1e-12)
	assert.InDelta(t, 32.0/400, few.SmallestP, 1e-12)
	assert.False(t, few.Counted)
}
