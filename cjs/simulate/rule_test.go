package simulate_test

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/simulate"
)

// biasRule is the rule for bias: below 0.1 SD + 3 Monte Carlo standard errors.
// It returns what breaks it.
func biasRule(r *simulate.Result, kinds ...string) (broken []string, checked int) {
	for _, q := range watched(r, kinds) {
		checked++
		if most := 0.1*q.SD + 3*q.BiasSE; !(math.Abs(q.Bias) < most) {
			broken = append(broken, fmt.Sprintf("%s: bias of %s %s %s is %.5f, allowed %.5f", r.Study, q.Kind, q.Of, q.At, q.Bias, most))
		}
	}
	return broken, checked
}

// coverageRule is the rule for coverage: the count of intervals that hold the
// truth lies in the simultaneous 99.9 % band, over family quantities, around
// probabilities from low to high.
func coverageRule(r *simulate.Result, family int, low, high float64, kinds ...string) (broken []string, checked int) {
	for _, q := range watched(r, kinds) {
		checked++
		least, most := simulate.Band(q.Intervals, family, low, high, 0.999)
		if q.Covered < least || q.Covered > most {
			broken = append(broken, fmt.Sprintf("%s: intervals of %s %s %s held the truth %d times of %d (%.2f %%; low %d, high %d), allowed %d to %d",
				r.Study, q.Kind, q.Of, q.At, q.Covered, q.Intervals, 100*q.Coverage(), q.Low, q.High, least, most))
		}
	}
	return broken, checked
}

// watched are the quantities of some kinds that were estimated.
func watched(r *simulate.Result, kinds []string) []simulate.Quantity {
	var out []simulate.Quantity
	for _, q := range r.Quantities {
		for _, k := range kinds {
			if q.Kind == k && q.Given > 0 {
				out = append(out, q)
			}
		}
	}
	return out
}
