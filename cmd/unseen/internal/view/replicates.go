package view

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cmd/unseen/internal/session"
)

// ReplicateSection says what replicates say of a fit.
func ReplicateSection(s *replicate.Set, sum *replicate.Summary, level float64) Section {
	how := "simulated under the estimates"
	if s.Method == replicate.ByFish {
		how = "drawn from the fish with replacement"
	}
	out := Section{Heading: "Bootstrap", Paragraphs: []string{fmt.Sprintf("%s, %s (seed %d).", Plural(sum.Replicates, "replicate"), how, s.Seed)}}
	switch {
	case math.IsNaN(sum.Deviance):
		out.Paragraphs = append(out.Paragraphs, "The fish differ by numbers, so there is no saturated model and no deviance to judge the fit by; see unseen assess.")
	case s.Method == replicate.Parametric && !math.IsNaN(sum.P):
		verdict := "nothing speaks against the model"
		if sum.P < 0.05 {
			verdict = "the model does not fit; see unseen assess for where"
		}
		out.Paragraphs = append(out.Paragraphs, fmt.Sprintf("Deviance %s, on average %s in simulated data; as large or larger in a share of %s: %s.",
			Digits(sum.Deviance, 1), Digits(sum.MeanDeviance, 1), Digits(sum.P, 3), verdict))
	}
	if n := sum.ByProfile; n > 0 {
		out.Paragraphs = append(out.Paragraphs, fmt.Sprintf("In the tables above %s the interval by profile likelihood: at or near 0 or 1, and where an estimate is borrowed, a bootstrap cannot be right. What replicates say of it stands below for comparison.",
			Plural(n, "estimate keeps", "estimates keep")))
	}
	t := Table{ID: "bootstrap", Title: "In percent; intervals " + Percent(level, 0) + ":", Columns: []Column{
		{Name: "estimate", Title: "of", Key: true}, {Name: "value", Title: "estimate", Kind: Number, Digits: 1},
		{Name: "bias", Title: "bias", Kind: Number, Digits: 2}, {Name: "se", Title: "SE", Kind: Number, Digits: 2},
		{Name: "low", Kind: Number}, {Name: "high", Kind: Number}, {Name: "corrected_low", Kind: Number}, {Name: "corrected_high", Kind: Number},
		{Title: "percentile"}, {Title: "bias-corrected"},
		{Name: "given", Title: "replicates", Kind: Count},
	}}
	span := func(low, high float64) Cell {
		return T(Span(100*low, 100*high, 1))
	}
	for _, e := range sum.Estimates {
		t.Rows = append(t.Rows, []Cell{T(e.Name), N(100 * e.Value), N(100 * e.Bias), N(100 * e.SE), N(100 * e.Low), N(100 * e.High),
			N(100 * e.CorrectedLow), N(100 * e.CorrectedHigh), span(e.Low, e.High), span(e.CorrectedLow, e.CorrectedHigh), I(e.Given)})
	}
	out.Tables = append(out.Tables, t)
	if len(sum.Failed) > 0 {
		out.Tables = append(out.Tables, countTable("failed", "Replicates without an answer:", "why", sum.Failed))
	}
	return out
}

// MergePage is the answer of merged replicates.
func MergePage(d *session.Data, s *replicate.Set, sum *replicate.Summary, level float64) Page {
	return Page{Title: "Replicates of " + s.Words, Sections: []Section{ReplicateSection(s, sum, level), {Tables: []Table{InputTable(d.Inputs)}}}}
}
