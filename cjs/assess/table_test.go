package assess

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
)

func tested(counts ...[]int) Table {
	t := Table{Counts: counts}
	t.test()
	return t
}

// Pooling by hand.
func TestPooling(t *testing.T) {
	// Lines of 40 and 10: a column needs 10 fish for 2 to be expected in the
	// second. From the right 10, then 6 + 6, then 25; 3 are left over and join
	// these.
	x := tested([]int{2, 21, 6, 4, 7}, []int{1, 4, 0, 2, 3})
	assert.Equal(t, ChiSquare, x.Method)
	assert.Equal(t, []int{0, 0, 1, 1, 2}, x.Pooled)
	assert.Equal(t, [][]int{{23, 10, 7}, {5, 2, 3}}, x.Tested())
	assert.Equal(t, 2, x.DF)

	// Exactly 2 expected is enough: 10 of 50 fish, 10 of 50 in the line.
	x = tested([]int{32, 8}, []int{8, 2})
	assert.Equal(t, ChiSquare, x.Method)
	assert.InDelta(t, 0, x.Statistic, 1e-12) // as expected throughout
	x = tested([]int{33, 7}, []int{8, 2})
	assert.Equal(t, Exact, x.Method)

	// The first column that is not empty against the rest.
	x = tested([]int{0, 3, 0, 1}, []int{0, 2, 1, 0})
	assert.Equal(t, Exact, x.Method)
	assert.Equal(t, [][]int{{3, 1}, {2, 1}}, x.Tested())

	// Zero margins.
	for _, x := range []Table{tested([]int{0, 0}, []int{3, 4}), tested([]int{3, 0}, []int{4, 0}), tested([]int{0, 0}, []int{0, 0})} {
		assert.Empty(t, x.Method)
		assert.Zero(t, x.DF)
		assert.False(t, x.Counted)
		assert.NotEmpty(t, x.Why)
	}

	// Three lines: 2 of 66 fish in the last cannot be tested; they join their
	// neighbour, whose columns then expect enough.
	x = tested([]int{20, 12}, []int{18, 14}, []int{1, 1})
	assert.Equal(t, ChiSquare, x.Method)
	assert.Equal(t, []int{0, 1, 1}, x.PooledLines)
	assert.Equal(t, [][]int{{20, 12}, {19, 15}}, x.Tested())
	assert.Equal(t, 1, x.DF)
	// The smaller neighbour takes it.
	x = tested([]int{20, 12}, []int{1, 1}, []int{18, 12})
	assert.Equal(t, []int{0, 1, 1}, x.PooledLines)
	x = tested([]int{20, 12}, []int{0, 0}, []int{19, 15}, []int{20, 12})
	assert.Equal(t, 2, x.DF)

	// Down to two lines and the exact test.
	x = tested([]int{1, 2}, []int{1, 0}, []int{0, 2})
	assert.Equal(t, Exact, x.Method)
	assert.Len(t, x.Tested(), 2)
}

// Chi-square of two lines of three, by SciPy (testdata/published/scipy/in_tests.py),
// to the last digits given there.
func TestPearson(t *testing.T) {
	x := tested([]int{762, 327, 468}, []int{484, 239, 477})
	assert.InDelta(t, 30.0701490958, x.Statistic, 5e-10)
	assert.Equal(t, 2, x.DF)
	assert.InDelta(t, 2.953589183e-7, x.P, 5e-16)
}

// TestFisherExact: exact tests by SciPy (testdata/published/scipy/in_tests.py), and
// fractions.
func TestFisherExact(t *testing.T) {
	assert.InDelta(t, 0.0005367241, cjs.FisherExact(2, 10, 15, 3), 5e-11)
	// 34/70, counted by hand: (1 + 16)·2 of the 70 ways to choose 4 of 8.
	assert.InDelta(t, 34.0/70, cjs.FisherExact(3, 1, 1, 3), 1e-12)

	rnd := rand.New(rand.NewPCG(5, 1))
	rounds := 300
	if testing.Short() {
		rounds = 60
	}
	for range rounds {
		most := 1 + rnd.IntN(40)
		a, b, c, d := rnd.IntN(most), rnd.IntN(most), rnd.IntN(3), rnd.IntN(most)
		want, smallest, byChance := inFractions(a, b, c, d)
		// 1e-11: lgamma of numbers up to 120 is good to 1e-14 relative.
		assert.InDelta(t, want, cjs.FisherExact(a, b, c, d), 1e-11, "%d %d %d %d", a, b, c, d)
		x := Table{Counts: [][]int{{a, b}, {c, d}}}
		perLine, perColumn, _ := margins(x.Counts)
		if zeros(perLine)+zeros(perColumn) > 0 {
			continue
		}
		x.exact(x.Counts, perColumn)
		assert.InDelta(t, want, x.P, 1e-11)
		assert.InDelta(t, want, upperTail(x.Statistic, 1), 1e-10)
		assert.InDelta(t, smallest, x.SmallestP, 1e-11)
		assert.InDelta(t, byChance, x.ByChance, 1e-11)
		assert.Equal(t, smallest <= 0.05, x.Counted)
	}
}

// inFractions is the two-sided exact probability, the smallest its margins
// allow, and the probability of one below 0.05, by counting in fractions.
func inFractions(a, b, c, d int) (p, smallest, byChance float64) {
	line, column, n := a+b, a+c, a+b+c+d
	ways := func(x int) *big.Int {
		w := new(big.Int).Binomial(int64(column), int64(x))
		return w.Mul(w, new(big.Int).Binomial(int64(n-column), int64(line-x)))
	}
	all := new(big.Int).Binomial(int64(n), int64(line))
	low, high := max(0, line+column-n), min(line, column)
	twoSided := func(at int) *big.Rat {
		sum := new(big.Int)
		for x := low; x <= high; x++ {
			if ways(x).Cmp(ways(at)) <= 0 {
				sum.Add(sum, ways(x))
			}
		}
		return new(big.Rat).SetFrac(sum, all)
	}
	least, chance := big.NewRat(1, 1), new(big.Rat)
	for x := low; x <= high; x++ {
		q := twoSided(x)
		if q.Cmp(least) < 0 {
			least = q
		}
		if q.Cmp(big.NewRat(1, 20)) < 0 {
			chance.Add(chance, new(big.Rat).SetFrac(ways(x), all))
		}
	}
	p, _ = twoSided(a).Float64()
	smallest, _ = least.Float64()
	byChance, _ = chance.Float64()
	return p, smallest, byChance
}
