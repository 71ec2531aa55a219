package view

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/session"
)

// ComparePage ranks variants of a model. test may be nil.
func ComparePage(d *session.Data, r *compare.Result, test *compare.Test) Page {
	river := &d.Histories.River
	best := r.Variants[0]
	opt := best.Fit.Options
	p := Page{Title: Title(d), Stamp: Stamp(d)}

	name := "AICc"
	if opt.VarianceInflation != 1 {
		name = "QAICc"
	}
	ranked := 0
	for _, v := range r.Variants {
		if v.Ranked() {
			ranked++
		}
	}
	answer := fmt.Sprintf("Of %s compared by %s, the data favour %q (weight %s).",
		Plural(ranked, "model"), name, best.Name(), Percent(best.Weight, 0))
	if ranked > 1 {
		second := r.Variants[1]
		evidence := "more than 1,000"
		if second.Evidence <= 1000 {
			evidence = Digits(second.Evidence, 1)
		}
		answer += fmt.Sprintf(" The next, %q, stands %s behind: the evidence for the best is %s times that for it.",
			second.Name(), Digits(second.Delta, 2), evidence)
	}
	p.Sections = append(p.Sections, Section{Paragraphs: []string{answer}})
	if test != nil {
		p.Sections = append(p.Sections, Section{Paragraphs: []string{testLine(test)}})
	}

	s := Section{Heading: "Models", Tables: []Table{variantTable(r, name)}}
	for _, v := range r.Variants {
		switch {
		case v.Err != nil:
			s.Paragraphs = append(s.Paragraphs, fmt.Sprintf("%q could not be fitted: %v.", v.Name(), v.Err))
		case !v.Ranked():
			s.Paragraphs = append(s.Paragraphs, fmt.Sprintf("%q is not ranked: %s.", v.Name(), v.Fit.Verdict))
		}
	}
	if len(r.Importance) > 0 {
		s.Tables = append(s.Tables, importanceTable(r))
	}
	p.Sections = append(p.Sections, s)

	if a := r.Averaged; a != nil && ranked > 1 {
		for _, part := range []struct {
			heading string
			tables  []Table
		}{
			{"Passed, averaged over the models", PassedTables(river, a.Passed, opt.Level)},
			{"Survival by reach, averaged", SurvivalTables(river, a.Survival, opt.Level)},
			{"Detection, averaged", DetectionTables(river, a.Detection, opt.Level)},
		} {
			p.Sections = append(p.Sections, Section{Heading: part.heading, Tables: part.tables})
		}
	}
	p.Sections = append(p.Sections, Section{Tables: []Table{WarningTable(r.Warnings), InputTable(d.Inputs)}})
	if len(r.Warnings) > 0 {
		w := Section{Heading: "Warnings"}
		for _, x := range r.Warnings {
			w.Warnings = append(w.Warnings, Warning{x.ID, x.About, x.Message})
		}
		p.Sections = append(p.Sections, w)
	}
	p.Sections = append(p.Sections, Section{Notes: cautions(d)})
	return p
}

func testLine(t *compare.Test) string {
	how := fmt.Sprintf("likelihood ratio %s with %d degrees of freedom", Digits(t.Statistic, 3), t.DF)
	if t.F {
		how = fmt.Sprintf("F %s with %d and %d degrees of freedom", Digits(t.Statistic, 3), t.DF, t.DF2)
	}
	return fmt.Sprintf("%q against the wider %q: %s, p = %s.", t.A, t.B, how, Digits(t.P, 3))
}

func variantTable(r *compare.Result, criterion string) Table {
	t := Table{ID: "models", Columns: []Column{
		{Name: "name", Title: "model", Key: true}, {Name: "survival"}, {Name: "detection"},
		{Name: "minus_two_log_likelihood", Title: "−2 ln L", Kind: Number, Digits: 3},
		{Name: "estimable", Title: "parameters", Kind: Count},
		{Name: "aicc", Title: criterion, Kind: Number, Digits: 3},
		{Name: "delta", Title: "Δ", Kind: Number, Digits: 2},
		{Name: "weight", Title: "weight", Kind: Number, Digits: 3},
		{Name: "evidence_ratio", Title: "evidence ratio", Kind: Number, Digits: 1},
		{Name: "verdict"}, {Name: "error"},
	}}
	for _, v := range r.Variants {
		row := []Cell{T(v.Name()), T(v.Spec.Survival), T(v.Spec.Detection)}
		verdict, failed := "", ""
		if v.Fit != nil {
			f := v.Fit
			row[1], row[2] = T(f.Problem.TermsOf(model.Survival).String()), T(f.Problem.TermsOf(model.Detection).String())
			row = append(row, N(f.MinusTwoLogLikelihood), I(f.Estimable), N(f.AICc))
			verdict = string(f.Verdict)
		} else {
			row = append(row, None(), None(), None())
			failed = v.Err.Error()
		}
		t.Rows = append(t.Rows, append(row, N(v.Delta), N(v.Weight), N(v.Evidence), T(verdict), T(failed)))
	}
	return t
}

func importanceTable(r *compare.Result) Table {
	t := Table{ID: "importance", Title: "Weight of the models with a term", Columns: []Column{
		{Name: "part", Title: "part", Key: true}, {Name: "term", Title: "term", Key: true},
		{Name: "weight", Title: "weight", Kind: Number, Digits: 3},
	}}
	for _, x := range r.Importance {
		if !math.IsNaN(x.Weight) {
			t.Rows = append(t.Rows, []Cell{T(string(x.Part)), T(x.Name), N(x.Weight)})
		}
	}
	return t
}
