package cjs

import (
	"fmt"
	"strings"

	"example.org/unseen/cjs/model"
)

// WarnSpeeds: fish travel the stretches of the river by different laws, and the
// model has one for all.
const WarnSpeeds = "speeds-differ"

// warnSpeeds tells where the model has fish travel alike in stretches in which
// they do not.
func (f *Fit) warnSpeeds() {
	s := f.Problem.Speeds()
	if !s.Differ() {
		return
	}
	sites := f.Problem.Histories.River.Sites
	drift, spread := f.Problem.TermsOf(model.Drift), f.Problem.TermsOf(model.Spread)
	var names []string
	for i, from := range s.From {
		names = append(names, fmt.Sprintf("%.3g km/day (spread %.3g km/√day) from %s to %s", s.Drift[i], s.Spread[i], sites[from].Name, sites[s.To[i]].Name))
	}
	then := "What is still to pass, and with it what will have passed by the season's end, may be too high or too low."
	switch first, last := s.Drift[0], s.Drift[len(s.Drift)-1]; {
	case last < first && !drift.ByReach():
		then = "Where they are slower downstream, fish still on their way are counted as dead: what will have passed by the season's end is too low."
	case last > first && !drift.ByReach():
		then = "Where they are faster downstream, dead fish are counted as still on their way: what will have passed by the season's end is too high."
	}
	f.warning(WarnSpeeds, "travel", "Migration differs between reaches: %s (likelihood ratio %.1f, %d df, p %s), but the model has drift %s and spread %s. %s Use drift %s and spread %s.",
		strings.Join(names, ", "), s.Statistic, s.DF, equalsP(s.P), drift, spread, then, drift.PerReach(), spread.PerReach())
}

// equalsP is p as it stands after "p".
func equalsP(p float64) string {
	if p < 0.001 {
		return pWords(p)
	}
	return "= " + pWords(p)
}
