package view

import (
	"fmt"

	"example.org/unseen/cjs"
)

// mostWarnings is how many warnings are shown; who is shown more reads none.
const mostWarnings = 5

// warningSection shows the most serious warnings, which come first, and counts
// the rest; CSV and JSON hold them all.
func warningSection(warnings []cjs.Warning) Section {
	s := Section{Heading: "Warnings", Warnings: warnings[:min(mostWarnings, len(warnings))]}
	if len(warnings) > mostWarnings {
		var ids []string
		count := map[string]int{}
		for _, w := range warnings[mostWarnings:] {
			if count[w.ID]++; count[w.ID] == 1 {
				ids = append(ids, w.ID)
			}
		}
		for i, id := range ids {
			if n := count[id]; n > 1 {
				ids[i] = fmt.Sprintf("%s (%d)", id, n)
			}
		}
		s.Notes = append(s.Notes, fmt.Sprintf("%s more: %s. --json and --csv hold them all.", Plural(len(warnings)-mostWarnings, "warning"), And(ids)))
	}
	s.Notes = append(s.Notes, "What each warning means and what to try: docs/convergence.md.")
	return s
}
