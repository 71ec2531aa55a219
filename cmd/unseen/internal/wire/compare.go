package wire

import (
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
)

// Compare is the document of `unseen compare`.
type Compare struct {
	Head
	// method and level
	Interval Interval `json:"interval"`
	// fish that no model is fitted to, so that all are fitted to the same
	LeftOut LeftOut `json:"left_out"`
	// best first, those not ranked last, with error where one could not be fitted
	Models     []Variant    `json:"models"`
	Importance []Importance `json:"importance"` // the sum of the weights of the models with a term
	Test       *Test        `json:"test"`       // a test of a model against a wider one; null without --test
	// averaged over models that hold at least 95 % of the weight; estimates null where there
	// are none
	Survival []Survival `json:"survival"`
	// averaged likewise
	Detection []Detection `json:"detection"`
	// averaged likewise, one set of models for all sites and groups
	Passed []Passed `json:"passed"`
	// of the comparison
	Warnings []Warning `json:"warnings"`
}

// LeftOut are the fish that no model is fitted to because they lack a value
// that one of them uses; a fish may lack several.
type LeftOut struct {
	Fish    int            `json:"fish"`
	Missing []MissingValue `json:"missing"`
}

// MissingValue counts the fish left out that lack a value of a column.
type MissingValue struct {
	Column string `json:"column"`
	Fish   int    `json:"fish"`
}

// Variant is one model of a comparison.
type Variant struct {
	Model    Model     `json:"model"`
	Fit      *Measures `json:"fit"`                  // null when the model could not be fitted
	Error    string    `json:"error" schema:"words"` // why it could not be fitted; empty where it could
	Delta    Number    `json:"delta"`
	Weight   Number    `json:"weight"`
	Evidence Number    `json:"evidence_ratio"`
}

// Importance is the sum of the weights of the models with a term.
type Importance struct {
	Part   model.Part `json:"part"`
	Term   string     `json:"term"`
	Weight Number     `json:"weight"`
}

// Test is a test of a model against a wider one.
type Test struct {
	Model     string `json:"model"`
	Against   string `json:"against"`
	Kind      string `json:"kind" schema:"enum=likelihood ratio|F"`
	Statistic Number `json:"statistic"`
	DF        int    `json:"df"`
	DF2       *int   `json:"df2"`
	P         Number `json:"p"`
}

// NewCompare makes the document. t may be nil.
func NewCompare(head Head, d *analysis.Data, r *compare.Result, t *compare.Test) Compare {
	river := &d.Histories.River
	opt := r.Variants[0].Fit.Options
	doc := Compare{Head: head, Interval: Interval{opt.Interval, Number(opt.Level)}, Models: VariantsOf(r.Variants),
		LeftOut:    LeftOut{r.LeftOut, each(r.Missing, func(m model.Missing) MissingValue { return MissingValue{m.Column, m.Fish} })},
		Importance: ImportancesOf(r.Importance),
		Survival:   []Survival{}, Detection: []Detection{}, Passed: []Passed{}, Warnings: WarningsOf(r.Warnings)}
	if a := r.Averaged; a != nil {
		doc.Survival, doc.Detection, doc.Passed = SurvivalOf(river, a.Survival), DetectionOf(river, a.Detection), PassedOf(river, a.Passed)
	}
	if t != nil {
		doc.Test = &Test{Model: t.A, Against: t.B, Kind: "likelihood ratio", Statistic: Number(t.Statistic), DF: t.DF, P: Number(t.P)}
		if t.F {
			doc.Test.Kind, doc.Test.DF2 = "F", &t.DF2
		}
	}
	return doc
}

// VariantsOf are the models of a comparison.
func VariantsOf(in []*compare.Variant) []Variant { return each(in, variant) }

// ImportancesOf are the weights of terms.
func ImportancesOf(in []compare.Importance) []Importance {
	return each(in, func(i compare.Importance) Importance { return Importance{i.Part, i.Name, Number(i.Weight)} })
}

func variant(v *compare.Variant) Variant {
	x := Variant{Model: specModel(v.Spec), Error: because(v.Err), Delta: Number(v.Delta), Weight: Number(v.Weight), Evidence: Number(v.Evidence)}
	if v.Fit != nil {
		m := measures(v.Fit)
		x.Fit, x.Model = &m, fitModel(v.Fit)
	}
	return x
}
