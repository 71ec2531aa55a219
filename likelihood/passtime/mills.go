package passtime

import "math"

const logSqrt2Pi = 0.91893853320467274178 // ½ log 2π

// logPhi is the logarithm of the standard normal density.
func logPhi(x float64) float64 { return -0.5*x*x - logSqrt2Pi }

// phiTimes is w times the standard normal density at x. The product is made
// inside the exponential where either would leave the range of numbers first.
func phiTimes(x, w float64) float64 {
	if x*x < 1000 && w < 1e100 {
		return math.Exp(-0.5*x*x) * (w / math.Sqrt(2*math.Pi))
	}
	return math.Exp(logPhi(x) + math.Log(w))
}

const (
	// fraction: from here on the continued fraction needs few terms; below, the
	// exponential costs at most x²/2 units in the last place.
	fraction = 7
	// near: below this gap, or below this share of x, a difference of two values
	// of M loses more than three digits.
	near, nearShare = 0.02, 0.02
)

// mills is M(x) = (1 − Φ(x))/φ(x), above x = −38; beyond it overflows. For
// large x by the continued fraction 1/(x + 1/(x + 2/(x + 3/…))) (Laplace 1805;
// Abramowitz & Stegun 26.2.14).
func mills(x float64) float64 {
	if x < fraction {
		return math.Sqrt(math.Pi/2) * math.Exp(0.5*x*x) * math.Erfc(x/math.Sqrt2)
	}
	// As many terms as give all digits: 18 at 7, 11 at 10, 5 at 50; found by trial against
	// 4,000 terms.
	reach := 1.2 + 18/x
	r := x
	for k := int(reach*reach) + 4; k >= 1; k-- {
		r = x + float64(k)/r
	}
	return 1 / r
}

// millsDrop is M(x) − M(x+gap), gap > 0. Where both are alike it is the
// series gap·J₁ − gap²·J₂/2! + …, with the positive moments
// J_n(x) = ∫ sⁿ exp(−xs − s²/2) ds over s > 0, which satisfy
// J_{n+1} = n J_{n−1} − x J_n, J₀ = M.
func millsDrop(x, gap float64) float64 {
	if apart(x, gap) {
		return mills(x) - mills(x+gap)
	}
	return nearDrop(x, gap)
}

// apart tells whether M(x) and M(x+gap) differ enough for their difference to
// keep its digits.
func apart(x, gap float64) bool { return gap >= max(near, nearShare*x) }

func nearDrop(x, gap float64) float64 {
	const n = 40
	var j [n + 2]float64
	if x < 1 {
		j[0] = mills(x)
		j[1] = 1 - x*j[0]
		for k := 1; k <= n; k++ {
			j[k+1] = float64(k)*j[k-1] - x*j[k]
		}
	} else {
		// J is the solution that grows least, so the ratios J_k/J_{k−1} =
		// k/(x + J_{k+1}/J_k) are taken from above.
		var ratio [n + 2]float64
		r := 0.0
		// The error of starting at k falls as exp(−2x(√2k − √2n)).
		reach := math.Sqrt(2*(n+1)) + 20/x
		for k := int(reach*reach/2) + 2; k >= 1; k-- {
			r = float64(k) / (x + r)
			if k <= n+1 {
				ratio[k] = r
			}
		}
		j[0] = 1 / (x + ratio[1])
		for k := 1; k <= n+1; k++ {
			j[k] = j[k-1] * ratio[k]
		}
	}
	var sum float64
	power := gap
	for k := 1; k <= n; k++ {
		term := power * j[k]
		sum += term
		if math.Abs(term) < 1e-17*math.Abs(sum) {
			break
		}
		power *= -gap / float64(k+1)
	}
	return sum
}
