package wire

import (
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cmd/unseen/internal/session"
)

// Compare is the document of `unseen compare`.
type Compare struct {
	Head
	Interval   Interval     `json:"interval"`
	LeftOut    LeftOut      `json:"left_out"`
	Models     []Variant    `json:"models"` // best first, those not ranked last
	Importance []Importance `json:"importance"`
	Test       *Test        `json:"test"`
	Survival   []Survival   `json:"survival"` // averaged
	Detection  []Detection  `json:"detection"`
	Passed     []Passed     `json:"passed"`
	Warnings   []Warning    `json:"warnings"`
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
	Model Model `json:"model"`
	// Fit is null when the model could not be fitted; Error says why.
	Fit      *Measures `json:"fit"`
	Error    string    `json:"error"`
	Delta    Number    `json:"delta"`
	Weight   Number    `json:"weight"`
	Evidence Number    `json:"evidence_ratio"`
}

// Importance is the sum of the weights of the models with a term.
type Importance struct {
	Part   string `json:"part"`
	Term   string `json:"term"`
	Weight Number `json:"weight"`
}

// Test is a test of a model against a wider one.
type Test struct {
	Model     string `json:"model"`
	Against   string `json:"against"`
	Kind      string `json:"kind"` // "likelihood ratio" or "F"
	Statistic Number `json:"statistic"`
	DF        int    `json:"df"`
	DF2       *int   `json:"df2"`
	P         Number `json:"p"`
}

// NewCompare makes the document. t may be nil.
func NewCompare(head Head, d *session.Data, r *compare.Result, t *compare.Test) Compare {
	river := &d.Histories.River
	opt := r.Variants[0].Fit.Options
	doc := Compare{Head: head, Interval: Interval{opt.Interval, Number(opt.Level)}, Importance: []Importance{},
		Survival: []Survival{}, Detection: []Detection{}, Passed: []Passed{}, Warnings: warnings(r.Warnings)}
	doc.LeftOut = LeftOut{r.LeftOut, []MissingValue{}}
	for _, m := range r.Missing {
		doc.LeftOut.Missing = append(doc.LeftOut.Missing, MissingValue{m.Column, m.Fish})
	}
	for _, v := range r.Variants {
		x := Variant{Model: specModel(v.Spec), Delta: Number(v.Delta), Weight: Number(v.Weight), Evidence: Number(v.Evidence)}
		if v.Err != nil {
			x.Error = v.Err.Error()
		}
		if v.Fit != nil {
			m := measures(v.Fit)
			x.Fit = &m
			x.Model = fitModel(v.Fit)
		}
		doc.Models = append(doc.Models, x)
	}
	for _, i := range r.Importance {
		doc.Importance = append(doc.Importance, Importance{string(i.Part), i.Name, Number(i.Weight)})
	}
	if a := r.Averaged; a != nil {
		doc.Survival, doc.Detection, doc.Passed = survivals(river, a.Survival), detections(river, a.Detection), passed(river, a.Passed)
	}
	if t != nil {
		doc.Test = &Test{Model: t.A, Against: t.B, Kind: "likelihood ratio", Statistic: Number(t.Statistic), DF: t.DF, P: Number(t.P)}
		if t.F {
			doc.Test.Kind, doc.Test.DF2 = "F", &t.DF2
		}
	}
	return doc
}
