package findings

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"example.org/unseen/history"
)

const alikeSites = "alike_sites"

// alikeSites looks for sites of the study that are most likely one, written
// differently: no fish came to both. Each takes the other's detections for fish
// that it missed.
func (t *travel) alikeSites() (out []history.Finding) {
	if t.off[alikeSites] {
		return nil
	}
	sites := t.h.River.Sites
	for k := 1; k < len(sites); k++ {
		for j := 1; j < k; j++ {
			if !history.Alike(sites[j].Name, sites[k].Name) {
				continue
			}
			both := 0
			for i := range t.h.Entry {
				if t.seenAt(i, j) && t.seenAt(i, k) {
					both++
				}
			}
			if both > 0 {
				continue
			}
			out = append(out, history.Finding{ID: alikeSites, Count: 2, About: sites[j].Name + " and " + sites[k].Name, Impact: 1,
				Message: fmt.Sprintf("the sites %q and %q are written almost alike, and no fish was detected at both", sites[j].Name, sites[k].Name),
				Advice:  fmt.Sprintf("if they are one place, keep one [[site]] with aliases = [%q] in it, and take out the other", sites[k].Name)})
		}
	}
	return out
}

// unknownSpelling is what to do about unknown sites that are most likely known
// ones, written differently; "" where none is. The most frequent is named, with
// all that are the same site.
func unknownSpelling(count map[string]int64, river *history.River) string {
	var names []string
	for _, s := range river.Sites {
		names = append(append(names, s.Name), s.Aliases...)
	}
	meant := func(name string) int { return river.SiteIndex(history.FirstAlike(name, names)) }
	unknown := slices.SortedFunc(maps.Keys(count), func(a, b string) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), history.NaturalCompare(a, b))
	})
	at, list := -1, ""
	for _, name := range unknown {
		switch k := meant(name); {
		case k < 0 || at >= 0 && k != at:
		case at < 0:
			at, list = k, strconv.Quote(name)
		default:
			list += ", " + strconv.Quote(name)
		}
	}
	if at < 0 {
		return ""
	}
	return fmt.Sprintf("probably another spelling of %q: write aliases = [%s] at that [[site]]; else add the site to the study", river.Sites[at].Name, list)
}
