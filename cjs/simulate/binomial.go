package simulate

import (
	"math"
	"math/rand/v2"
)

// Binomial draws how many of n independent trials succeed, each with
// probability p. Small expectations are found by adding up probabilities
// (Kachitvichyanukul & Schmeiser 1988), large ones by transformed rejection
// (algorithm BTRS of Hörmann 1993, Journal of Statistical Computation and
// Simulation 46:101–110). It is −1 when n < 0, p is not in [0, 1] or rnd is nil.
func Binomial(rnd *rand.Rand, n int, p float64) int {
	switch {
	case n < 0 || !(p >= 0 && p <= 1) || rnd == nil:
		return -1
	case n == 0 || p == 0:
		return 0
	case p == 1:
		return n
	case p > 0.5:
		return n - Binomial(rnd, n, 1-p)
	case n == 1:
		if rnd.Float64() < p {
			return 1
		}
		return 0
	case float64(n)*p < 10:
		return addUp(rnd, n, p)
	}
	return reject(rnd, n, p)
}

// addUp is for n·p below 10, where the first term does not vanish.
func addUp(rnd *rand.Rand, n int, p float64) int {
	s := p / (1 - p)
	a := float64(n+1) * s
	first := math.Exp(float64(n) * math.Log1p(-p))
	for {
		r, u := first, rnd.Float64()
		// The probability beyond 150 is less than a float64 can tell.
		for x := 0; x <= min(n, 150); x++ {
			if u < r {
				return x
			}
			u -= r
			r *= a/float64(x+1) - s
		}
	}
}

// reject is for n·p of at least 10.
func reject(rnd *rand.Rand, n int, p float64) int {
	N := float64(n)
	spread := math.Sqrt(N * p * (1 - p))
	b := 1.15 + 2.53*spread
	a := -0.0873 + 0.0248*b + 0.01*p
	c := N*p + 0.5
	sure := 0.92 - 4.2/b
	alpha := (2.83 + 5.1/b) * spread
	odds := math.Log(p / (1 - p))
	mode := math.Floor((N + 1) * p)
	top := math.NaN()
	for {
		u, v := rnd.Float64()-0.5, rnd.Float64()
		us := 0.5 - math.Abs(u)
		k := math.Floor((2*a/us+b)*u + c)
		if !(k >= 0 && k <= N) {
			continue
		}
		if us >= 0.07 && v <= sure {
			return int(k)
		}
		if math.IsNaN(top) {
			top = logFactorial(mode) + logFactorial(N-mode)
		}
		if math.Log(v*alpha/(a/(us*us)+b)) <= top-logFactorial(k)-logFactorial(N-k)+(k-mode)*odds {
			return int(k)
		}
	}
}

func logFactorial(x float64) float64 {
	v, _ := math.Lgamma(x + 1)
	return v
}
