package view

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// asked are the sections that a fit has where they were asked for.
func asked(d *analysis.Fitted) []Section {
	var out []Section
	if d.Replicates != nil {
		out = append(out, ReplicateSection(d.Replicates, d.Bootstrap, d.Fit.Options.Level))
	}
	if d.WhatIf != nil {
		out = append(out, WhatIfSections(&d.Histories.River, d.WhatIf)...)
	}
	if d.Opinion != nil {
		out = append(out, opinionSection(d.Opinion))
	}
	return out
}

// briefAsked are those of one screen: of a bootstrap of much the shares that passed.
func briefAsked(d *analysis.Fitted) []Section {
	out := asked(d)
	for i := range out {
		for j := range out[i].Tables {
			t := &out[i].Tables[j]
			if t.ID != "bootstrap" || len(t.Rows) <= mostGroups {
				continue
			}
			if passed := only(t.Rows, func(r []Cell) bool { return strings.HasPrefix(r[0].Text, "passed ") }); len(passed) > 0 {
				t.Rows = passed
				t.Notes = append(slices.Clone(t.Notes), Note{Text: "with --full also survival and detection"})
			}
		}
	}
	return out
}

// opinionSection says whether other optimisers come to the same maximum.
func opinionSection(r *opinion.Result) Section {
	s := Section{Heading: "A second opinion", Paragraphs: []string{opinionWords(r)}, Tables: []Table{opinionTable(r)}}
	for _, m := range r.Methods {
		if m.LeftOut != "" {
			s.Notes = append(s.Notes, m.Name+" was left out: "+m.LeftOut+".")
		}
	}
	s.Notes = append(s.Notes, fmt.Sprintf("The same likelihood, maximised by other methods, each from %s. A run is at the best when its −2 ln L is within %.5f of it; differences are of passed %%, survival, detection and products over those runs.",
		Plural(r.Options.Starts, "start"), opinion.Tolerance))
	return s
}

// opinionWords is the opinion in a sentence or two.
func opinionWords(r *opinion.Result) string {
	methods, starts, reached := r.Counts()
	if methods == 0 {
		return "There is nothing to give a second opinion on: the model has no coefficients."
	}
	optimisers := "optimisers"
	if methods == 1 {
		optimisers = "optimiser"
	}
	who := fmt.Sprintf("%s other %s from %s", inWords(methods), optimisers, Plural(starts, "start"))
	if r.Better() {
		return fmt.Sprintf("NOT THE MAXIMUM: of %s, %s ended at a higher maximum than the fit (−2 ln L %s against %s). Do not use the numbers of this fit.",
			who, Plural(reached, "run"), Digits(r.Best, 6), Digits(r.Fit, 6))
	}
	if reached == 0 {
		return Sentence(fmt.Sprintf("%s found no better maximum, and none came as far as the fit: this is no confirmation", who))
	}
	words := fmt.Sprintf("%s found no better maximum", who)
	if rest := starts - reached; rest > 0 {
		words += fmt.Sprintf("; %s ended at the fit's, the others lower, by %s in −2 ln L at most", Plural(reached, "run"), Digits(r.Worst()-r.Best, 3))
	}
	words += opinionDifferences(r, reached)
	return Sentence(words)
}

// inWords is a small number in words.
func inWords(n int) string {
	if words := []string{"no", "one", "two", "three"}; n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

// opinionDifferences says how far the estimates are from the fit's.
func opinionDifferences(r *opinion.Result, reached int) string {
	se, percent := r.Differences()
	switch {
	case !math.IsNaN(se) && !math.IsNaN(percent):
		return fmt.Sprintf(". Where they agree their estimates differ by %s standard errors at most, those at 0 or 1 by %s percentage points", Digits(se, 3), Digits(percent, 3))
	case !math.IsNaN(se):
		return fmt.Sprintf(". Where they agree their estimates differ by %s standard errors at most", Digits(se, 3))
	case !math.IsNaN(percent):
		return fmt.Sprintf(". Where they agree their estimates differ by %s percentage points at most", Digits(percent, 3))
	}
	return ""
}

func opinionTable(r *opinion.Result) Table {
	return records("second_opinion", wire.OpinionsOf(r),
		col("method", "method").key(), col("starts", "starts"), col("reached", "at the best"), col("failed", ""),
		col("best_minus_two_log_likelihood", "best −2 ln L", 3).from("minus_two_log_likelihood.best"),
		col("worst_minus_two_log_likelihood", "worst −2 ln L", 3).from("minus_two_log_likelihood.worst"),
		col("largest_difference_se", "difference, SE", 3), col("largest_difference_percent", "at 0 or 1, points", 3),
		col("evaluations", ""), col("left_out", ""))
}

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

// ReplicatePage is what passed with intervals by replicates, and what they say.
func ReplicatePage(d *analysis.Fitted) Page {
	out := ReplicateSection(d.Replicates, d.Bootstrap, d.Fit.Options.Level)
	out.Heading = ""
	passed := PassedTables(&d.Histories.River, d.Fit.Passed, d.Fit.Options.Level)[:1]
	passed[0].Title = "Passed, with intervals by these replicates"
	return Page{Sections: []Section{worded(d.Data, d.Running(), Section{Tables: passed}), out}}
}

// MergePage is the answer of merged replicates.
func MergePage(from analysis.Source, s *replicate.Set, sum *replicate.Summary, level float64) Page {
	return Page{Title: "Replicates of " + s.Words, Sections: []Section{ReplicateSection(s, sum, level), {Tables: []Table{InputTable(from.Inputs)}}}}
}

func countTable(id, title, what string, counts map[string]int) Table {
	t := Table{ID: id, Title: title, Columns: []Column{{Name: what, Title: what, Key: true}, {Name: "replicates", Title: "replicates", Kind: Count}}}
	for _, k := range slices.Sorted(maps.Keys(counts)) {
		t.Rows = append(t.Rows, []Cell{T(k), I(counts[k])})
	}
	return t
}
