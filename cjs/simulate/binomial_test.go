package simulate_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs/simulate"
)

// TestBinomialDistribution holds draws to the distribution as gonum computes
// it, by a chi-square over the cells that 20,000 draws fill.
func TestBinomialDistribution(t *testing.T) {
	const draws = 20000
	for i, c := range []struct {
		n int
		p float64
	}{{1, 0.3}, {5, 0.02}, {9, 0.5}, {40, 0.1}, {40, 0.93}, {60, 0.4}, {360, 0.75}, {2000, 0.006}, {20000, 0.05}, {100000, 0.5}} {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			rnd := simulate.Stream(71, uint64(i))
			count := map[int]float64{}
			for range draws {
				k := simulate.Binomial(rnd, c.n, c.p)
				assert.True(t, k >= 0 && k <= c.n)
				count[k]++
			}
			b := distuv.Binomial{N: float64(c.n), P: c.p}
			// Neighbouring values make a cell until 25 are expected in it.
			var chi, expected, seen float64
			cells := 0
			sd := math.Sqrt(float64(c.n) * c.p * (1 - c.p))
			from, to := max(0, int(float64(c.n)*c.p-9*sd)-2), min(c.n, int(float64(c.n)*c.p+9*sd)+2)
			close := func() {
				chi += (seen - expected) * (seen - expected) / expected
				cells++
				expected, seen = 0, 0
			}
			left := float64(draws)
			for k := from; k <= to; k++ {
				expected += draws * b.Prob(float64(k))
				seen += count[k]
				if expected >= 25 && left-expected >= 25 {
					left -= expected
					close()
				}
			}
			close()
			p := 1 - distuv.ChiSquared{K: float64(cells - 1)}.CDF(chi)
			// Ten cases: at 1e-4 a right generator fails once in a thousand seeds.
			assert.Greater(t, p, 1e-4, "chi-square %.1f over %d cells", chi, cells)
		})
	}
}

func TestBinomialEdges(t *testing.T) {
	rnd := simulate.Stream(1, 1)
	assert.Equal(t, 0, simulate.Binomial(rnd, 0, 0.5))
	assert.Equal(t, 0, simulate.Binomial(rnd, 9, 0))
	assert.Equal(t, 9, simulate.Binomial(rnd, 9, 1))
	assert.Equal(t, -1, simulate.Binomial(rnd, -1, 0.5))
	assert.Equal(t, -1, simulate.Binomial(rnd, 3, 1.01))
	assert.Equal(t, -1, simulate.Binomial(rnd, 3, math.NaN()))
}
