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
	// fraction: from here on the continued fraction needs few terms.
	fraction = 7
	// near: below this gap, or below this share of x, a difference of two values
	// of M loses more than three digits.
	near, nearShare = 0.02, 0.02
)

// mills is M(x) = (1 − Φ(x))/φ(x), above x = −38; beyond it overflows. For
// large x by the continued fraction 1/(x + 1/(x + 2/(x + 3/…))) (Laplace 1805;
// Abramowitz & Stegun 26.2.14).
func mills(x float64) float64 {
	switch {
	case x < 0:
		return millsByErfc(x)
	case x < fraction:
		// The series by the moments at the nearest node; see nearDrop.
		i := int(x*millsNodes + 0.5)
		c, h := &millsTable[i], x-float64(i)/millsNodes
		g := h * h
		return (c[0] + h*c[1] + g*(c[2]+h*c[3])) + g*g*(c[4]+h*c[5]+g*(c[6]+h*c[7]))
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

// millsByErfc is M(x) by its definition: the exponential costs at most x²/2 units
// in the last place.
func millsByErfc(x float64) float64 {
	return math.Sqrt(math.Pi/2) * math.Exp(0.5*x*x) * math.Erfc(x/math.Sqrt2)
}

// millsNodes is how many nodes of the table lie in one unit of x: half way
// between two the series of 8 terms is good to 1e-17.
const millsNodes = 32

// millsTable are the coefficients (−1)^n J_n/n! of M around each node.
var millsTable = func() (c [fraction*millsNodes + 1][8]float64) {
	for i := range c {
		x := float64(i) / millsNodes
		j := moments(x)
		factor := 1.0
		for n := range c[i] {
			c[i][n] = factor * j[n]
			factor /= -float64(n + 1)
		}
	}
	return c
}()

// mostMoments is how many moments a series may take.
const mostMoments = 40

// moments are the positive moments J_n(x) = ∫ sⁿ exp(−xs − s²/2) ds over s > 0,
// which satisfy J_{n+1} = n J_{n−1} − x J_n, J₀ = M; (−1)^n J_n is the n-th
// derivative of M.
func moments(x float64) (j [mostMoments + 2]float64) {
	const n = mostMoments
	if x < 1 {
		j[0] = millsByErfc(x)
		j[1] = 1 - x*j[0]
		for k := 1; k <= n; k++ {
			j[k+1] = float64(k)*j[k-1] - x*j[k]
		}
		return j
	}
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
	return j
}

// millsDrop is M(x) − M(x+gap), gap > 0. Where both are alike it is the
// series gap·J₁ − gap²·J₂/2! + …, see moments.
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
	j := moments(x)
	var sum float64
	power := gap
	for k := 1; k <= mostMoments; k++ {
		term := power * j[k]
		sum += term
		if math.Abs(term) < 1e-17*math.Abs(sum) {
			break
		}
		power *= -gap / float64(k+1)
	}
	return sum
}
