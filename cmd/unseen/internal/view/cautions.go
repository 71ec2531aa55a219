package view

import (
	"slices"

	"example.org/unseen/cjs/analysis"
)

// Cautions are printed at the foot of every fit.
var Cautions = []string{
	"Survival is apparent: a fish that stays behind, leaves the river elsewhere, or loses its tag counts as dead.",
	"The estimates describe tagged fish of taggable size that were released here, not the whole run.",
	"They hold under the assumptions listed by `unseen fit --assumptions`.",
	"Handling fish requires permits and trained staff. These estimates inform management decisions; they do not make them.",
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
