package cjs

import (
	"fmt"
	"math"
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
