package assess_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/internal/warncheck"
)

// TestEveryWarning walks all IDs: each is raised by what must raise it, holding
// the facts, and not by what lies just on the other side of its limit.
func TestEveryWarning(t *testing.T) {
	result := func(statistic float64, df int, p float64, covariates bool) []cjs.Warning {
		sum := assess.Sum{Statistic: statistic, DF: df, P: p}
		r := &assess.Result{Total: sum, BeforeCovariates: covariates,
			Components: []assess.Component{{Name: "quiet", Sum: assess.Sum{Statistic: 1, DF: 2, P: 0.6}}, {Name: "loud", Sum: assess.Sum{Statistic: statistic - 1, DF: df - 2, P: 0.6}}}}
		return r.Warnings()
	}
	// Two checks, the total content: one of them below 0.05 / 2, or not.
	check := func(p float64) []cjs.Warning {
		r := &assess.Result{Total: assess.Sum{Statistic: 11, DF: 10, P: 0.36}, Components: []assess.Component{
			{Name: "quiet", Sum: assess.Sum{Statistic: 4, DF: 8, P: 0.86}}, {Name: "loud", Sum: assess.Sum{Statistic: 7, DF: 2, P: p}}}}
		return r.Warnings()
	}
	// One fifth lies off, the others where they should; so many covariates.
	fifths := func(off float64, covariates int) []cjs.Warning {
		var list []assess.Covariate
		for c := range covariates {
			x := assess.Covariate{Name: "length"}
			for range 5 {
				x.Quintiles = append(x.Quintiles, assess.Quintile{Low: 90, High: 110, SeenAgain: 40, Expected: 40, SE: 4})
			}
			if c == 0 {
				x.Quintiles[3].Expected = 40 + 4*off
			}
			list = append(list, x)
		}
		return assess.CovariateWarnings(list)
	}
	cases := []struct {
		id          string
		raise, near []cjs.Warning
		facts       []string
	}{
		{assess.WarnWrongModel, result(30.1, 10, 0.0008, false), result(29.9, 10, 0.0009, false), []string{"3.01", "30.10", "10", "loud"}},
		{assess.WarnLackOfFit, result(18.4, 10, 0.0489, false), result(18.2, 10, 0.0517, false), []string{"1.84", "18.40", "10", "loud"}},
		{assess.WarnLackOfFit, check(0.0249), check(0.0251), []string{"loud", "p = 0.02", "p = 0.050", "11.00", "10", "1.10", "p = 0.36"}},
		{assess.WarnCannotBeChecked, result(0, 0, 1, false), result(1, 1, 0.3, false), nil},
		{assess.WarnBeforeCovariates, result(11, 10, 0.36, true), result(11, 10, 0.36, false), []string{"1.10"}},
		// Two sides and five fifths: 0.05/10 is 2.576 standard deviations;
		// with two covariates 0.05/20 is 2.807.
		{assess.WarnCovariate, fifths(2.6, 1), fifths(2.55, 1), []string{"length", "90", "110", "40", "50.4", "-2.6"}},
		{assess.WarnCovariate, fifths(-2.6, 1), fifths(-2.55, 1), []string{"29.6", "+2.6"}},
		{assess.WarnCovariate, fifths(2.87, 2), fifths(2.6, 2), []string{"-2.9"}},
	}
	for _, id := range assess.WarningIDs {
		found := false
		for _, c := range cases {
			found = found || c.id == id
		}
		assert.True(t, found, "%s has nothing that raises it", id)
	}
	for _, c := range cases {
		warncheck.Raised(t, cjs.Warning{ID: c.id}, c.raise, c.near, c.facts)
	}
}
