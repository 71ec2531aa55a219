package compare

import (
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/cjs/model"
)

// Result is a comparison: the variants, best first, those not ranked last.
type Result struct {
	Variants []*Variant // best first, those not ranked last
	// Importance is the sum of the weights of the variants with a name in
	// their terms (Burnham & Anderson 2002, section 4.2.2).
	Importance []Importance
	Averaged   *Averaged
	Warnings   []cjs.Warning
	// LeftOut is the number of fish that no variant is fitted to because they
	// lack a value that one of them uses, Missing which values.
	LeftOut int
	Missing []model.Missing
}

// Variant is one model of a comparison.
type Variant struct {
	Spec model.Spec // the model
	// Fit is nil when the variant could not be fitted; Err says why.
	Fit *cjs.Fit
	Err error
	// Delta is the difference in AICc (QAICc) to the best, Weight its Akaike
	// weight, Evidence the best's weight over it. NaN for a variant that is
	// not ranked.
	Delta, Weight, Evidence float64
}

// Name is the variant's name, or its words.
func (v *Variant) Name() string {
	if v.Spec.Name != "" {
		return v.Spec.Name
	}
	if v.Fit.Check() == nil {
		return v.Fit.Problem.Words()
	}
	return "survival: " + v.Spec.Survival + " · detection: " + v.Spec.Detection
}

// Ranked tells whether the variant takes part in the ranking: fitted,
// converged, and with an AICc.
func (v *Variant) Ranked() bool {
	return v.Fit != nil && v.Fit.Verdict == cjs.Converged && !math.IsNaN(v.Fit.AICc)
}

// Importance of a name in one part of the model.
type Importance struct {
	Part   model.Part // survival or detection
	Name   string     // of the term
	Weight float64    // sum of the Akaike weights of the models with it
}

// Averaged are estimates over ranked variants that hold at least 95 % of the
// Akaike weight, each weighed by its own scaled to 1, on the probability scale
// (a boundary estimate is infinite on the logit scale), with unconditional
// standard errors
//
//	se = Σ w √(se² + (θ − θ̄)²)
//
// (Burnham & Anderson 2002, eq. 4.9) and intervals on the logit scale. What
// fewer give has no average.
type Averaged struct {
	// Over are the variants that passed % is averaged over: the same at all
	// sites and for all groups.
	Over      []*Variant
	Survival  []cjs.Survival
	Detection []cjs.Detection
	Passed    []cjs.Passed
}

// Test compares a model with a wider one it is a special case of.
type Test struct {
	A, B string // B is the wider
	// Statistic is the likelihood ratio −2 ln L_A + 2 ln L_B with DF degrees
	// of freedom; with a variance inflation it is F = ratio / (DF · inflation)
	// with DF and DF2.
	Statistic float64
	DF        int
	F         bool
	DF2       int
	P         float64
}

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (a Averaged) MarshalJSON() ([]byte, error)   { return plain.JSON(a) }
func (v Variant) MarshalJSON() ([]byte, error)    { return plain.JSON(v) }
func (r Result) MarshalJSON() ([]byte, error)     { return plain.JSON(r) }
func (i Importance) MarshalJSON() ([]byte, error) { return plain.JSON(i) }
func (t Test) MarshalJSON() ([]byte, error)       { return plain.JSON(t) }
