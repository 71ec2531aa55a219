package view

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cmd/unseen/internal/wire"
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
		out.Paragraphs = append(out.Paragraphs, "The fish differ by numbers, or by when they passed, so there is no saturated model and no deviance to judge the fit by; see `unseen assess`.")
	case s.Method == replicate.Parametric && !math.IsNaN(sum.P):
		verdict := "no evidence of lack of fit"
		switch judged := sum.Replicates - failures(sum.Failed); {
		case judged < fewReplicates:
			verdict = fmt.Sprintf("of so few replicates no verdict follows; take %d or more", fewReplicates)
		case sum.P < 0.05:
			verdict = "the model does not fit; `unseen assess` shows where"
		}
		out.Paragraphs = append(out.Paragraphs, fmt.Sprintf("Deviance %s, on average %s in simulated data; as large or larger in a share of %s: %s.",
			Digits(sum.Deviance, 1), Digits(sum.MeanDeviance, 1), Digits(sum.P, 3), verdict))
	}
	if n := sum.ByProfile; n > 0 {
		out.Paragraphs = append(out.Paragraphs, fmt.Sprintf("In the tables above %s the interval by profile likelihood: at or near 0 or 1, and where an estimate is borrowed (identified only through shared parameters), a bootstrap is not valid. The bootstrap's own interval is given below for comparison.",
			Plural(n, "estimate keeps", "estimates keep")))
	}
	list := sum.Estimates
	if !slices.ContainsFunc(list, func(e replicate.Estimate) bool { return !math.IsNaN(e.Low) }) {
		out.Paragraphs = append(out.Paragraphs, fmt.Sprintf("Too few replicates for an interval of %s: those in the tables above are not by bootstrap.", Percent(level, 0)))
	}
	percent := func(name, title string, digits int) field { return col(name, title, digits).times(100) }
	t := records("bootstrap", wire.ReplicatesOf(list),
		col("estimate", "of").from("name").key(), percent("value", "estimate", 1).from("estimate"),
		percent("bias", "bias", 2), percent("se", "SE", 2),
		percent("low", "", 0), percent("high", "", 0), percent("corrected_low", "", 0), percent("corrected_high", "", 0),
		words("", "percentile", func(i int) string { return Span(100*list[i].Low, 100*list[i].High, 1) }),
		words("", "bias-corrected", func(i int) string { return Span(100*list[i].CorrectedLow, 100*list[i].CorrectedHigh, 1) }),
		col("given", "replicates"))
	t.Title = "In percent; intervals " + Percent(level, 0) + ":"
	out.Tables = append(out.Tables, t)
	if len(sum.Failed) > 0 {
		out.Tables = append(out.Tables, countTable("failed", "Replicates without estimates:", "why", sum.Failed))
	}
	return out
}

// fewReplicates: of fewer the share can never be below 0.05, whatever the fit.
const fewReplicates = 20

func failures(count map[string]int) (n int) {
	for _, k := range count {
		n += k
	}
	return n
}

// MergePage is the answer of merged replicates.
func MergePage(from analysis.Source, s *replicate.Set, sum *replicate.Summary, level float64) Page {
	return Page{Title: "Replicates of " + s.Words, Sections: []Section{ReplicateSection(s, sum, level), {Tables: []Table{InputTable(from.Inputs)}}}}
}
