package findings

import (
	"math"

	"example.org/unseen/history/rule"
)

// workingShare is what [Find] gives.
func (t *travel) workingShare() [][]float64 {
	out := make([][]float64, len(t.h.Cohorts))
	for c := range out {
		out[c] = make([]float64, t.sites)
		out[c][0] = math.NaN()
	}
	for k := 1; k < t.sites; k++ {
		windows := t.windows(k)
		inside, all := make([]int, len(out)), make([]int, len(out))
		if len(windows) > 0 && !t.off["outside_working"] {
			for i := range t.h.Entry {
				if int(t.h.Entry[i]) >= k {
					continue
				}
				ms, ok := t.expected(i, k)
				// A fish detected neither here nor below may not have come.
				if !ok || k+1 < t.sites && !t.seenBelow(i, k) && !t.seenAt(i, k) {
					continue
				}
				c := t.h.Cohort[i]
				all[c]++
				if rule.Inside(ms, windows) {
					inside[c]++
				}
			}
		}
		for c := range out {
			switch {
			case len(windows) == 0 || t.off["outside_working"]:
				out[c][k] = 1
			case all[c] == 0:
				out[c][k] = math.NaN()
			default:
				out[c][k] = float64(inside[c]) / float64(all[c])
			}
		}
	}
	return out
}

// windows are the times in which some row of site k worked; nil: always.
func (t *travel) windows(k int) (out []rule.Window) {
	for i := range t.seen.Places {
		if p := &t.seen.Places[i]; p.Site == k {
			if p.Windows == nil {
				return nil
			}
			out = append(out, p.Windows...)
		}
	}
	return out
}
