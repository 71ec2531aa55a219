package view

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cmd/unseen/internal/wire"
)

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
		return sentence(fmt.Sprintf("%s found no better maximum, and none came as far as the fit: this is no confirmation", who))
	}
	words := fmt.Sprintf("%s found no better maximum", who)
	if rest := starts - reached; rest > 0 {
		words += fmt.Sprintf("; %s ended at the fit's, the others lower, by %s in −2 ln L at most", Plural(reached, "run"), Digits(r.Worst()-r.Best, 3))
	}
	words += opinionDifferences(r, reached)
	return sentence(words)
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
