package compare

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/history"
)

// Against tests a, the narrower model, against b. DF is the difference of what
// the design can estimate. It refuses a pair that is not nested.
func Against(a, b *Variant) (*Test, error) {
	if a == nil || b == nil {
		return nil, fmt.Errorf("a test needs two variants")
	}
	if a.Fit.Check() != nil || b.Fit.Check() != nil {
		return nil, fmt.Errorf("%s and %s cannot be tested: one of them was not fitted", a.Name(), b.Name())
	}
	f, g := a.Fit, b.Fit
	if !f.Problem.Within(g.Problem) {
		if g.Problem.Within(f.Problem) {
			return nil, fmt.Errorf("%s is the wider model: test %s against %s", a.Name(), b.Name(), a.Name())
		}
		return nil, fmt.Errorf("%s is not a special case of %s, so a likelihood ratio says nothing; compare them by AICc", a.Name(), b.Name())
	}
	t := &Test{A: a.Name(), B: b.Name(), DF: g.Estimable - f.Estimable, Statistic: f.MinusTwoLogLikelihood - g.MinusTwoLogLikelihood}
	if t.DF < 1 {
		return nil, fmt.Errorf("%s and %s have the same number of estimable parameters: there is nothing to test", a.Name(), b.Name())
	}
	if t.Statistic < -1e-6 {
		return nil, fmt.Errorf("%s fits better (−2 ln L %.6f) than the wider %s (%.6f): one of the two searches missed its maximum", a.Name(), f.MinusTwoLogLikelihood, b.Name(), g.MinusTwoLogLikelihood)
	}
	t.Statistic = max(0, t.Statistic)
	if c := f.Options.VarianceInflation; c != 1 {
		t.F = true
		t.Statistic /= float64(t.DF) * c
		t.DF2 = max(1, g.EffectiveSample-g.Estimable)
		t.P = distuv.F{D1: float64(t.DF), D2: float64(t.DF2)}.Survival(t.Statistic)
	} else {
		t.P = distuv.ChiSquared{K: float64(t.DF)}.Survival(t.Statistic)
	}
	if math.IsNaN(t.P) {
		return nil, fmt.Errorf("the test of %s against %s gave no probability", a.Name(), b.Name())
	}
	return t, nil
}

// Find is the variant of a name, or of the words of its model.
func (r *Result) Find(name string) (*Variant, error) {
	for _, v := range r.Variants {
		if v == nil {
			continue
		}
		if v.Spec.Name == name || v.Fit.Check() == nil && v.Fit.Problem.Words() == name {
			return v, nil
		}
	}
	var names, shown []string
	for _, v := range r.Variants {
		if v == nil {
			continue
		}
		names, shown = append(names, v.Name()), append(shown, fmt.Sprintf("%q", v.Name()))
	}
	return nil, fmt.Errorf("there is no variant %q; there are %s%s", name, strings.Join(shown, ", "), history.Propose(name, names))
}
