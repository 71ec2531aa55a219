package history

import (
	"cmp"
	"math/bits"
	"slices"
)

// Distinct is a cohort's fish with the same detection history.
type Distinct struct {
	// Record is the first record that has it: cohort, entry, rows and end.
	Record int
	Fish   int
}

// Distinct counts the fish of each cohort by their detection histories, in
// order of cohort, entry, and rows: those seen farthest up and oftenest first. It
// gives none of histories that [Histories.Check] refuses.
func (h *Histories) Distinct() []Distinct {
	if h.Check() != nil {
		return nil
	}
	type key struct {
		cohort int32
		entry  uint8
		seen   uint64
		end    End
	}
	index := map[key]int{}
	var out []Distinct
	for i := range h.Entry {
		k := key{h.Cohort[i], h.Entry[i], h.Seen[i], h.End[i]}
		at, ok := index[k]
		if !ok {
			at = len(out)
			index[k] = at
			out = append(out, Distinct{Record: i})
		}
		out[at].Fish += h.Weight(i)
	}
	slices.SortFunc(out, func(x, y Distinct) int {
		a, b := x.Record, y.Record
		return cmp.Or(
			cmp.Compare(h.Cohort[a], h.Cohort[b]),
			cmp.Compare(h.Entry[a], h.Entry[b]),
			// The first row is the lowest bit: reversed, it weighs most.
			cmp.Compare(bits.Reverse64(h.Seen[b]), bits.Reverse64(h.Seen[a])),
			cmp.Compare(h.End[a], h.End[b]))
	})
	return out
}

// NextSeen is a line of the next-seen table: the fish of a cohort released, or
// put back, at a site, by where they were next seen.
type NextSeen struct {
	Cohort, Site int // indices of the cohort and of the site of release
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
// out. The rows of a divided site count as one. It gives none of histories that
// [Histories.Check] refuses.
func (h *Histories) NextSeen() []NextSeen {
	if h.Check() != nil {
		return nil
	}
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
