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
	"Permits and licensed practice decide on the handling of fish; the manager decides on the river.",
}

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
		{"The tagged fish stand for the fish you speak of.",
			"A trap, a minimum length or a part of the season selects; the answer is about the selected."},
		{"Tagging and being sighted change nothing of a fish's fate.",
			"Deaths soon after release read as deaths in the first reach."},
		{"Sites are short against the reaches between them.",
			"Deaths at a site are shared out wrongly between detection and survival."},
		{"The fates of fish are independent.",
			"Schools and shared predators make intervals too narrow; survival itself stays right."},
		{"Fish of one cohort have the same survival and detection, but for what the model says.",
			"Detection that differs between fish makes survival look too low or too high."},
		{"Below each site, fish that were sighted there mix with those that were not.",
			"A bypass with an antenna and its own mortality breaks this; so do rows that share noise."},
		{"Releases and removals are known.",
			"A fish taken out without a record counts as dead."},
		{"Codes are read and recorded rightly; every reader works, or its outages are in the study.",
			"A silent reader looks like low detection, and like death at the last site."},
		{"No tag is lost, or its loss is in the study as [retention].",
			"A lost tag reads as a death."},
		{"Fish move downstream in order, and have all passed.",
			"Fish that stay, turn back or are still on their way count as dead (study: as_of)."},
		{"A dead fish or a lost tag does not drift past a site.",
			"Ghost tags read as survivors."},
	} {
		list.Rows = append(list.Rows, []Cell{T(a[0]), T(a[1])})
	}
	return Page{
		Title: "What a fit assumes",
		Sections: []Section{{Tables: []Table{list}}, {Notes: []string{
			"Assumptions as usually stated for release and sighting studies of this kind: " +
				"Cormack (1964), Jolly (1965), Seber (1965), Burnham and others (1987).",
		}}},
	}
}
