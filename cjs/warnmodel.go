package cjs

import (
	"fmt"
	"math"
	"strings"

	"example.org/unseen/cjs/model"
)

// WarnPassedBelowSeen: the model says that fewer passed than were seen.
const WarnPassedBelowSeen = "passed-below-seen"

// warnPassedBelowSeen names the rows of the passed table whose passed % (while
// the season runs, passed so far) ends below the share seen, which is survival
// times detection and cannot truly be higher.
func (f *Fit) warnPassedBelowSeen() {
	river := &f.Problem.Histories.River
	var names []string
	for i := range f.Passed {
		row := &f.Passed[i]
		passed, what := row.PassedShare, "passed"
		if f.running != nil {
			passed, what = row.SoFar, "passed so far"
		}
		high, said := passed.High, fmt.Sprintf("%.1f–%.1f %%", 100*passed.Low, 100*passed.High)
		if math.IsNaN(high) {
			// What the study holds has no interval.
			high, said = passed.Value, fmt.Sprintf("%.1f %%", 100*passed.Value)
		}
		// Rounding alone parts two that are equal by no more.
		if seen := row.SeenShare.Value; high < seen-1e-9 {
			names = append(names, fmt.Sprintf("%s%s (seen %.1f %%, %s %s)", river.Sites[row.Site].Name, forWords(row.Of), 100*seen, what, said))
		}
	}
	if len(names) > 0 {
		f.warning(WarnPassedBelowSeen, "passed", "By the model fewer fish passed than were seen: %s. A model that shares values between cohorts, reaches or sites, or one with values held, may say less of some fish than was seen of them; for these fish it does not fit. Fish passed counts all that are known to have passed. Try a model that lets them differ (\"by cohort\"); unseen assess says where else it does not fit.",
			list(names, 6))
	}
}

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
