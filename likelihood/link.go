package likelihood

import "math"

// LinkKind is how a probability follows from its predictor η.
type LinkKind uint8

const (
	// Logit: 1/(1+exp(−η)).
	Logit LinkKind = iota
	// Linear: η itself, unbounded; for comparison with tables that print
	// survival above 1.
	Linear
	// Rate: exp(−Length·exp(η)), for survival only: mortality at rate
	// exp(η) per unit of length.
	Rate
	// CLogLog: 1 − exp(−Length·exp(η)), the complement of Rate and, with
	// Length 1, the complementary log-log link: detection where a fish that
	// passes is read exp(η) times on average, reads being Poisson (McCullagh &
	// Nelder 1989, section 4.3.1).
	CLogLog
	// Fixed: a value taken as known; η has no part in it.
	Fixed
	// Log: exp(η), for drift and spread.
	Log
)

// Link is the link of one slot.
type Link struct {
	Kind LinkKind // of link
	// Length of the reach, for Rate; for CLogLog the passages taken together.
	Length float64
	// Value of the probability, for Fixed.
	Value float64
}

// Bounded tells whether the link keeps probabilities between 0 and 1, which it
// then reaches where η is infinite.
func (l Link) Bounded() bool { return l.Kind == Logit || l.Kind == Rate || l.Kind == CLogLog }

// Prob is a probability at a predictor, with what its derivatives need.
type Prob struct {
	P float64 // the probability
	Q float64 // 1 − P, without cancellation
	U float64 // d log P / dη, so that dP/dη = P·U
	W float64 // d log Q / dη, so that dQ/dη = Q·W
	V float64 // (d²P/dη²)/(dP/dη)
}

// At is the probability at η.
func (l Link) At(eta float64) Prob {
	switch l.Kind {
	case Logit:
		p, q := Expit(eta)
		return Prob{p, q, q, -p, q - p}
	case Linear:
		return Prob{eta, 1 - eta, 1 / eta, -1 / (1 - eta), 0}
	case Rate:
		m := l.Length * math.Exp(eta)
		s, q := math.Exp(-m), -math.Expm1(-m)
		return Prob{s, q, -m, m * s / q, 1 - m}
	case CLogLog:
		r := Link{Kind: Rate, Length: l.Length}.At(eta)
		return Prob{r.Q, r.P, r.W, r.U, r.V}
	case Log:
		return Prob{P: math.Exp(eta), U: 1, V: 1}
	default:
		return Prob{P: l.Value, Q: 1 - l.Value}
	}
}

// Inverse is the predictor at which the probability is p.
// For Fixed it is 0: there is none.
func (l Link) Inverse(p float64) float64 {
	switch l.Kind {
	case Logit:
		return LogitOf(p)
	case Linear:
		return p
	case Rate:
		return math.Log(-math.Log(p) / l.Length)
	case CLogLog:
		return math.Log(-math.Log1p(-p) / l.Length)
	case Log:
		return math.Log(p)
	default:
		return 0
	}
}

// Expit is the inverse logit of x and its complement, each without
// cancellation in either tail.
func Expit(x float64) (p, q float64) {
	if x < -700 {
		// exp(−x) would overflow.
		return math.Exp(x), 1
	}
	e := math.Exp(-x)
	p = 1 / (1 + e)
	return p, e * p
}

// LogitOf is log(p/(1−p)).
func LogitOf(p float64) float64 { return math.Log(p) - math.Log1p(-p) }
