package simulate

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Band is the range of counts, both ends included, outside which each of m
// binomial counts of n trials with a probability anywhere from low to high
// falls with at most the chance that makes it confidence that none of the m
// does (Bonferroni): a simultaneous band. It is from 0 to n where n or m is none,
// or low, high and confidence are no shares.
func Band(n, m int, low, high, confidence float64) (least, most int) {
	share := func(v float64) bool { return v >= 0 && v <= 1 }
	if n < 0 || n > math.MaxInt32 || m < 1 || m > math.MaxInt32 || !share(low) || !share(high) || !share(confidence) {
		return 0, n
	}
	tail := (1 - confidence) / float64(2*m)
	least = quantile(n, low, tail)
	most = n - quantile(n, 1-high, tail)
	return least, most
}

// quantile is the largest count k with P(X < k) ≤ tail.
func quantile(n int, p, tail float64) int {
	low, high := 0, n
	for low < high {
		k := (low + high + 1) / 2
		if cumulative(n, k-1, p) <= tail {
			low = k
		} else {
			high = k - 1
		}
	}
	return low
}

// cumulative is P(X ≤ k), by the incomplete beta function.
func cumulative(n, k int, p float64) float64 {
	switch {
	case k < 0:
		return 0
	case k >= n:
		return 1
	case p <= 0:
		return 1
	case p >= 1:
		return math.SmallestNonzeroFloat64
	}
	return mathext.RegIncBeta(float64(n-k), float64(k+1), 1-p)
}
