package view

import (
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/travel"
)

// mostWarnings is how many warnings are shown; who is shown more reads none.
const mostWarnings = 5

// warningTitles say in a few words what a warning is about, where its message
// is not shown.
var warningTitles = map[string]string{
	cjs.WarnNotConverged:         "the fit did not converge",
	cjs.WarnTooEarly:             "too early to tell slow fish from dead ones",
	cjs.WarnSpeeds:               "migration differs between reaches",
	cjs.WarnOneLaw:               "one law of travel does not hold for all fish",
	cjs.WarnOutage:               "a silence that may be an outage",
	cjs.WarnProfileBeats:         "a better maximum was found",
	cjs.WarnSeveralMaxima:        "two nearly equal maxima",
	cjs.WarnNotEstimable:         "parameters not estimable with these data",
	cjs.WarnClosedForm:           "disagreement with the closed form",
	cjs.WarnInseparable:          "survival and detection not separately estimable",
	cjs.WarnModelAlone:           "estimate identified only through shared parameters",
	cjs.WarnPassedBelowSeen:      "fewer passed by the model than were seen",
	cjs.WarnRetention:            "tag retention below the share passed",
	cjs.WarnSeparated:            "a number tells fish of 0 from fish of 1",
	cjs.WarnBoundary:             "estimates on the boundary (0 or 1)",
	cjs.WarnLimit:                "interval limits not found",
	cjs.WarnRows:                 "rows do not detect independently",
	cjs.WarnRowsUntested:         "independence of rows not tested",
	cjs.WarnSparse:               "poorly estimated (few fish)",
	cjs.WarnDropped:              "fish left out or values filled in",
	assess.WarnWrongModel:        "the model is inadequate (variance inflation above 3)",
	assess.WarnLackOfFit:         "evidence of lack of fit",
	assess.WarnCovariate:         "effect of a number does not fit",
	assess.WarnCannotBeChecked:   "fit cannot be checked",
	assess.WarnBeforeCovariates:  "variance inflation before covariates",
	compare.WarnAveragedDisagree: "averages without some of the models",
	compare.WarnBestDoubtful:     "the best model has warnings of its own",
	opinion.WarnBetter:           "another optimiser found a higher maximum",
	plan.CannotSeparate:          "survival and detection not separately estimable",
	plan.CannotEstimate:          "parameters not estimable with this design",
	plan.AtBound:                 "assumed values of exactly 1",
	plan.FewAgain:                "few fish expected to be detected again",
	plan.NotExact:                "assumed values changed by the model",
	travel.WarnFast:              "a travel faster than fish swim",
	travel.WarnNotTimed:          "fish without a travel time",
	travel.WarnAsOf:              "fish still on their way",
	travel.WarnEarly:             "too early to estimate the migration rate",
	travel.WarnNoFit:             "the law of travel did not converge",
	travel.WarnLaw:               "travel times do not follow the law",
	travel.WarnHidden:            "fish that passed in an outage",
	travel.WarnOutage:            "times of a site that did not always work",
}

// WarningTitle says in a few words what a warning is about, with its ID in
// brackets.
func WarningTitle(id string) string {
	if title := warningTitles[id]; title != "" {
		return title + " [" + id + "]"
	}
	return "[" + id + "]"
}

// warningSection shows the most serious warnings, which come first, and counts
// the rest; CSV and JSON hold them all.
func warningSection(warnings []cjs.Warning) Section {
	s := Section{Heading: "Warnings", Warnings: warnings[:min(mostWarnings, len(warnings))]}
	if len(warnings) > mostWarnings {
		var more []string
		count := map[string]int{}
		for _, w := range warnings[mostWarnings:] {
			if count[w.ID]++; count[w.ID] == 1 {
				more = append(more, w.ID)
			}
		}
		for i, id := range more {
			more[i] = WarningTitle(id)
			if n := count[id]; n > 1 {
				more[i] += fmt.Sprintf(" (%d)", n)
			}
		}
		s.Notes = append(s.Notes, fmt.Sprintf("%s: %s. --json and --csv hold them all.", Plural(len(warnings)-mostWarnings, "further warning"), And(more)))
	}
	return s
}
