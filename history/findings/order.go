package findings

import (
	"fmt"

	"example.org/unseen/history"
)

const (
	// leastBack is how many fish must come to two sites against the order of
	// the study before anything is said, and shareBack of those that came to
	// both; from shareReversed on nearly all do.
	leastBack     = 5
	shareBack     = 0.3
	shareReversed = 0.9
)

// reversed looks for neighbouring sites that fish come to against the order of
// the study: the order is wrong, or a clock is.
func (t *travel) reversed() []history.Finding {
	if t.off[SitesReversed] {
		return nil
	}
	by := map[[2]int][]float64{} // by site above and below
	for _, x := range t.seen.TurnedBack {
		by[[2]int{x.Above, x.Below}] = append(by[[2]int{x.Above, x.Below}], float64(x.By))
	}
	var out []history.Finding
	for k := 1; k+1 < t.sites; k++ {
		back := by[[2]int{k, k + 1}]
		if len(back) < leastBack {
			continue
		}
		both := len(back)
		for i := range t.h.Entry {
			if int(t.h.Entry[i]) < k && t.seenAt(i, k) && t.seenAt(i, k+1) {
				both++
			}
		}
		share := float64(len(back)) / float64(both)
		if share < shareBack {
			continue
		}
		above, below := t.h.River.Sites[k].Name, t.h.River.Sites[k+1].Name
		f := history.Finding{ID: SitesReversed, About: above + " and " + below, Count: int64(len(back)), Impact: 1,
			Message: history.Say("%d of the %d fish detected at both %s and %s came to %s first, by a median of %.1f days; their records at %s are set aside",
				len(back), both, above, below, below, median(back)/day24, above)}
		f.Advice = fmt.Sprintf("probably a clock at one of the two is days off: correct it with clock at the site; else is %s the one farther up?", below)
		if share >= shareReversed {
			f.Advice = fmt.Sprintf("probably the study has the sites in the wrong order, and %s is farther up: exchange them; if the order is right, a clock at one of the two is days off", below)
		}
		out = append(out, f)
	}
	return out
}
