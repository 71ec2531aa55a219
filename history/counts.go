package history

import (
	"cmp"
	"slices"
)

// Distinct is a detection history and the number of fish that have it.
type Distinct struct {
	Cohort int
	Entry  int
	Seen   uint64
	End    End
	Fish   int
}

// Distinct counts the fish of each cohort by their detection histories, in
// order of cohort, entry, and sites: those seen farthest up and oftenest first.
func (h *Histories) Distinct() []Distinct {
	index := map[Distinct]int{}
	var out []Distinct
	for i := range h.Entry {
		key := Distinct{Cohort: int(h.Cohort[i]), Entry: int(h.Entry[i]), Seen: h.Seen[i], End: h.End[i]}
		at, ok := index[key]
		if !ok {
			at = len(out)
			index[key] = at
			out = append(out, key)
		}
		out[at].Fish += h.Weight(i)
	}
	rows := h.River.Rows()
	slices.SortFunc(out, func(a, b Distinct) int {
		if c := cmp.Or(cmp.Compare(a.Cohort, b.Cohort), cmp.Compare(a.Entry, b.Entry)); c != 0 {
			return c
		}
		for b0 := range rows {
			if c := cmp.Compare(b.Seen>>b0&1, a.Seen>>b0&1); c != 0 {
				return c
			}
		}
		return cmp.Compare(a.End, b.End)
	})
	return out
}

// NextSeen is a line of the next-seen table: the fish of a cohort released, or
// put back, at a site, by where they were next seen.
type NextSeen struct {
	Cohort, Site int
	// Released counts new fish and fish put back after being seen at Site;
	// removed fish are not among them.
	Released int
	// Next is the number next seen at each site (len(River.Sites) entries).
	Next []int
}

// Never is the number not seen again.
func (n *NextSeen) Never() int {
	never := n.Released
	for _, k := range n.Next {
		never -= k
	}
	return never
}

// NextSeen reduces the histories to the next-seen table: one line for each
// cohort and each site above the last, in that order, lines without fish left
// out. The rows of a divided site count as one.
func (h *Histories) NextSeen() []NextSeen {
	sites := len(h.River.Sites)
	masks := h.River.SiteMasks()
	table := make([]NextSeen, len(h.Cohorts)*sites)
	for i := range table {
		table[i] = NextSeen{Cohort: i / sites, Site: i % sites, Next: make([]int, sites)}
	}
	for i := range h.Entry {
		of := table[int(h.Cohort[i])*sites:]
		at, last, n := int(h.Entry[i]), h.LastSite(i, masks), h.Weight(i)
		if at == last && h.End[i] == Removed {
			continue
		}
		of[at].Released += n
		for k := at + 1; k <= last; k++ {
			if h.Seen[i]&masks[k] == 0 {
				continue
			}
			of[at].Next[k] += n
			at = k
			if k < last || h.End[i] == Open {
				of[k].Released += n
			}
		}
	}
	return slices.DeleteFunc(table, func(n NextSeen) bool { return n.Released == 0 || n.Site == sites-1 })
}
