package view

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs/opinion"
)

func TestOpinionWords(t *testing.T) {
	nan := math.NaN()
	out := opinion.Method{Name: "Nelder–Mead", LeftOut: "too many", Best: nan, Worst: nan, DifferenceSE: nan, DifferencePercent: nan}
	one := func(reached int, best, worst, se, percent float64) opinion.Method {
		return opinion.Method{Name: "BFGS", Starts: 12, Reached: reached, Best: best, Worst: worst, DifferenceSE: se, DifferencePercent: percent}
	}
	for _, c := range []struct {
		methods []opinion.Method
		best    float64
		want    string
	}{
		{[]opinion.Method{one(12, 100, 100, 0.0002, nan), one(12, 100, 100, 0.04, nan), out}, 100,
			"Two other optimisers from 24 starts found no better maximum. Where they agree their estimates differ by 0.040 standard errors at most."},
		{[]opinion.Method{one(12, 100, 100, 1e-7, 0.002), out}, 100,
			"One other optimiser from 12 starts found no better maximum. Where they agree their estimates differ by <0.001 standard errors at most, those at 0 or 1 by 0.002 percentage points."},
		{[]opinion.Method{one(12, 100, 100, nan, 0.002)}, 100,
			"One other optimiser from 12 starts found no better maximum. Where they agree their estimates differ by 0.002 percentage points at most."},
		{[]opinion.Method{one(11, 100, 102.5, 0.1, nan), one(1, 100, 100, 0.1, nan), one(12, 100, 100, 0.1, nan)}, 100,
			"Three other optimisers from 36 starts found no better maximum; 24 runs ended at the fit's, the others lower, by 2.500 in −2 ln L at most. Where they agree their estimates differ by 0.100 standard errors at most."},
		{[]opinion.Method{one(0, 101, 102.5, nan, nan)}, 100,
			"One other optimiser from 12 starts found no better maximum, and none came as far as the fit: this is no confirmation."},
		{[]opinion.Method{one(1, 99.5, 102.5, 3, nan), one(0, 100, 102.5, nan, nan)}, 99.5,
			"NOT THE MAXIMUM: of two other optimisers from 24 starts, 1 run ended at a higher maximum than the fit (−2 ln L 99.500000 against 100.000000). Do not use the numbers of this fit."},
		{[]opinion.Method{out}, 100, "There is nothing to give a second opinion on: the model has no coefficients."},
	} {
		r := &opinion.Result{Fit: 100, Best: c.best, Methods: c.methods}
		assert.Equal(t, c.want, opinionWords(r))
	}
}
