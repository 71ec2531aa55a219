package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// ComparePage ranks variants of a model. test may be nil.
func ComparePage(d *analysis.Data, r *compare.Result, test *compare.Test) Page {
	return comparePage(d, r, test, true)
}

// BriefComparePage is the ranking on one screen, with how many passed.
func BriefComparePage(d *analysis.Data, r *compare.Result, test *compare.Test) Page {
	return comparePage(d, r, test, false)
}

func comparePage(d *analysis.Data, r *compare.Result, test *compare.Test, full bool) Page {
	river := &d.Histories.River
	best := r.Variants[0]
	opt := best.Fit.Options
	p := newPage(d)

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
	answer := fmt.Sprintf("Of %s compared by %s, the best supported is %q (weight %s).",
		Plural(ranked, "model"), name, best.Name(), Percent(best.Weight, 0))
	if ranked > 1 {
		second := r.Variants[1]
		evidence := "more than 1,000"
		if second.Evidence <= 1000 {
			evidence = Digits(second.Evidence, 1)
		}
		answer += fmt.Sprintf(" Next is %q: Δ%s %s; evidence ratio %s in favour of the best model.",
			second.Name(), name, Digits(second.Delta, 2), evidence)
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
		t := importanceTable(r)
		t.CSVOnly = !full
		s.Tables = append(s.Tables, t)
	}
	p.Sections = append(p.Sections, s)

	if a := r.Averaged; a != nil && ranked > 1 {
		passed := PassedTables
		if !full {
			passed = briefPassed
		}
		p.Sections = append(p.Sections, worded(d, d.Running(), Section{Heading: "Passed, averaged over the models", Tables: passed(river, a.Passed, opt.Level), Notes: []string{AveragedNote}}))
		if full {
			p.Sections = append(p.Sections, Section{Heading: "Survival by reach, averaged", Tables: SurvivalTables(river, a.Survival, opt.Level)},
				Section{Heading: "Detection, averaged", Tables: DetectionTables(river, a.Detection, opt.Level)})
		}
	}
	p.Sections = append(p.Sections, Section{Tables: []Table{WarningTable(r.Warnings), InputTable(d.Inputs)}})
	if len(r.Warnings) > 0 {
		p.Sections = append(p.Sections, Section{Heading: "Warnings", Warnings: r.Warnings})
	}
	if !full {
		p.Sections = append(p.Sections, Section{Notes: []string{briefNote("weights of terms, survival, detection, cautions", len(r.Warnings) > 0)}})
		return p
	}
	p.Sections = append(p.Sections, Section{Notes: cautions(d)})
	return p
}

// AveragedNote says how the intervals of averages are made.
const AveragedNote = "Intervals of averages are on the logit scale with unconditional standard errors; --interval applies to the models they average."

func testLine(t *compare.Test) string {
	how := fmt.Sprintf("likelihood ratio %s with %d degrees of freedom", Digits(t.Statistic, 3), t.DF)
	if t.F {
		how = fmt.Sprintf("F %s with %d and %d degrees of freedom", Digits(t.Statistic, 3), t.DF, t.DF2)
	}
	return fmt.Sprintf("%q against the wider %q: %s, p %s.", t.A, t.B, how, strings.Replace("= "+Digits(t.P, 3), "= <", "< ", 1))
}

func variantTable(r *compare.Result, criterion string) Table {
	list := r.Variants
	return records("models", wire.VariantsOf(list),
		words("name", "model", func(i int) string { return list[i].Name() }).key(),
		col("survival", "").from("model.survival"), col("detection", "").from("model.detection"),
		col("minus_two_log_likelihood", "−2 ln L", 3).from("fit.minus_two_log_likelihood"),
		col("estimable", "parameters").from("fit.estimable"),
		col("aicc", criterion, 3).from("fit.aicc"),
		col("delta", "Δ", 2), col("weight", "weight", 3), col("evidence_ratio", "evidence ratio", 1),
		col("verdict", "").from("fit.verdict"), col("error", ""))
}

func importanceTable(r *compare.Result) Table {
	list := slices.DeleteFunc(wire.ImportancesOf(r.Importance), func(x wire.Importance) bool { return math.IsNaN(float64(x.Weight)) })
	t := records("importance", list, col("part", "part").key(), col("term", "term").key(), col("weight", "weight", 3))
	t.Title = "Weight of the models with a term"
	return t
}
