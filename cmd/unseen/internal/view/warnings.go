package view

import (
	"fmt"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/travel"
)

// Cautions are printed at the foot of every fit.
var Cautions = []string{
	"Survival is apparent: a fish that stays behind, leaves the river elsewhere, or loses its tag counts as dead.",
	"The estimates describe tagged fish of taggable size that were released here, not the whole run.",
	"They hold under the assumptions listed by `unseen fit --assumptions`.",
	"Handling fish requires permits and trained staff. These estimates inform management decisions; they do not make them.",
}

// Preliminary are the cautions of a season that still runs.
var Preliminary = []string{
	"Preliminary: the season is still running. Late records, corrected clocks and the fish to come will change these numbers.",
	"Fish still on their way are assumed to behave as those before them: the same migration rate and spread, no long delay, the same survival.",
}

// SingleFish stands wherever records of single fish are shown or written.
const SingleFish = "These records are of single fish. Where the species is protected, think before publishing where and when fish were detected, and ask those who tagged a fish before publishing its data."

// cautions are those of a fit, after those of a season that still runs.
func cautions(d *analysis.Data) []string {
	if !d.Running() {
		return Cautions
	}
	return append(slices.Clone(Preliminary), Cautions...)
}

// Assumptions is the screen of `unseen fit --assumptions`.
func Assumptions() Page {
	list := Table{Columns: []Column{{Title: "assumption"}, {Title: "when it fails"}}}
	for _, a := range [][2]string{
		{"The tagged fish represent the fish the estimates are meant for.",
			"A trap, a minimum length or a part of the season selects fish; the estimates describe the selected."},
		{"Tagging and detection do not affect a fish's subsequent survival or detection.",
			"Deaths soon after release count as mortality in the first reach."},
		{"Sites are short compared with the reaches between them.",
			"Deaths at a site bias both detection and survival."},
		{"The fates of fish are independent.",
			"Schooling and shared predators make intervals too narrow; survival itself is not biased."},
		{"Within a release group, survival and detection are homogeneous except for effects in the model.",
			"Detection that differs between fish biases survival, low or high."},
		{"Below each site, fish that were detected there mix with those that were not.",
			"A bypass with an antenna and its own mortality breaks this; so do rows that share noise."},
		{"Releases and removals are known.",
			"A fish taken out without a record counts as dead."},
		{"Codes are read and recorded correctly; every reader works, or its outages are in the study.",
			"A reader that is down looks like low detection, and like mortality at the last site."},
		{"No tag is lost, or its loss is in the study as [retention].",
			"A lost tag counts as a death."},
		{"Fish move downstream in order, and have all passed.",
			"Fish that stay, turn back or are still on their way count as dead (study: as_of)."},
		{"A dead fish or a lost tag does not drift past a site.",
			"Such tags (ghost tags) count as survivors."},
	} {
		list.Rows = append(list.Rows, []Cell{T(a[0]), T(a[1])})
	}
	return Page{
		Title: "What a fit assumes",
		Sections: []Section{{Tables: []Table{list}}, {Notes: []string{
			"Assumptions as usually stated for release–recapture studies: " +
				"Cormack (1964), Jolly (1965), Seber (1965), Burnham and others (1987).",
		}}},
	}
}

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
