package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs/simulate"
)

// TestBand holds the band to binomial sums in exact fractions (Python's
// fractions and math.comb; testdata/published/scipy/in_tests.py): the largest k with P(X < k) ≤ (1 − confidence)/2m,
// at both ends.
func TestBand(t *testing.T) {
	for _, c := range []struct {
		n, m                  int
		low, high, confidence float64
		least, most           int
	}{
		{200, 1, 0.95, 0.95, 0.999, 179, 198},
		{200, 40, 0.95, 0.95, 0.999, 175, 200},
		{500, 10, 0.94, 0.96, 0.999, 447, 495},
		{50, 3, 0.5, 0.5, 0.99, 15, 35},
	} {
		least, most := simulate.Band(c.n, c.m, c.low, c.high, c.confidence)
		assert.Equal(t, [2]int{c.least, c.most}, [2]int{least, most}, "%+v", c)
	}
}
