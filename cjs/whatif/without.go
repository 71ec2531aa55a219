package whatif

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// WithoutCohort is the input without the fish of cohort c, and without what is
// held or tested for it alone.
func WithoutCohort(in model.Input, c int) (model.Input, error) {
	if err := in.Check(); err != nil {
		return in, err
	}
	h := in.Histories
	if n := len(h.Cohorts); c < 0 || c >= n || n < 2 {
		return in, fmt.Errorf("cohort number %d cannot be left out; there are 0 to %d, and one must stay", c, n-1)
	}
	var keep []int
	for i, g := range h.Cohort {
		if int(g) != c {
			keep = append(keep, i)
		}
	}
	name := h.Cohorts[c]
	out := h.Pick(keep)
	out.Cohorts = slices.Delete(slices.Clone(h.Cohorts), c, c+1)
	for i, g := range out.Cohort {
		if int(g) > c {
			out.Cohort[i]--
		}
	}
	of := func(where map[string]string) bool {
		return where[model.Cohort] == name || h.CohortColumn != "" && where[h.CohortColumn] == name
	}
	in.Histories = out
	in.Holds = slices.DeleteFunc(slices.Clone(in.Holds), func(x model.Hold) bool { return of(x.Where) })
	in.TestPasses = slices.DeleteFunc(slices.Clone(in.TestPasses), func(x model.TestPasses) bool { return of(x.Where) })
	if in.WorkingShare != nil {
		in.WorkingShare = slices.Delete(slices.Clone(in.WorkingShare), c, c+1)
	}
	in.Conditions = slices.Clone(in.Conditions)
	for i := range in.Conditions {
		x := &in.Conditions[i]
		x.Mean = slices.Delete(slices.Clone(x.Mean), c, c+1)
		if x.Fish != nil {
			x.Fish = slices.Delete(slices.Clone(x.Fish), c, c+1)
		}
	}
	return in, nil
}

// WithoutSite is the input as if site k ≥ 1 had never been: its sightings are
// gone and the reaches above and below it are one. Fish that enter at k enter
// where they are next seen, as fish put back there; those never seen again
// leave, as a history is conditional on its release. Fish taken out at k count
// as taken out where they were detected last above it. note tells of such fish. It
// returns an error where that cannot be done.
func WithoutSite(in model.Input, k int) (out model.Input, note string, err error) {
	if err := in.Check(); err != nil {
		return in, "", err
	}
	h := in.Histories
	sites := len(h.River.Sites)
	if k < 1 || k >= sites {
		return in, "", fmt.Errorf("site number %d cannot be left out; of the sites 0 to %d the first is where fish are released", k, sites-1)
	}
	name := h.River.Sites[k].Name
	last := k == sites-1
	if sites < 3 {
		return in, "", fmt.Errorf("without %s no site is left below the release", name)
	}
	if !last && slices.Contains(h.End, history.Continued) {
		return in, "", fmt.Errorf("a next-seen table does not say where the fish detected at %s had come from; give histories instead", name)
	}
	out = in
	if out.Holds, err = holdsWithout(in, k); err != nil {
		return in, "", err
	}
	first, rows := h.River.FirstRow(k), h.River.Sites[k].RowCount()
	out.TestPasses = nil
	for _, t := range in.TestPasses {
		if b, ok := rowWithout(t.Row, first, rows); ok {
			t.Row = b
			out.TestPasses = append(out.TestPasses, t)
		}
	}
	out.Conditions = slices.Clone(in.Conditions)
	for i := range out.Conditions {
		x := &out.Conditions[i]
		x.Mean, x.Fish = columnsWithout(x.Mean, k), columnsWithout(x.Fish, k)
	}
	if in.Working != nil {
		out.Working = slices.Delete(slices.Clone(in.Working), first, first+rows)
	}
	out.WorkingShare = columnsWithout(in.WorkingShare, k)
	out.Histories, note = historiesWithout(h, k)
	return out, note, nil
}

// rowWithout is the number that row b has without rows first … first+n−1; ok
// is false for one of these.
func rowWithout(b, first, n int) (row int, ok bool) {
	switch {
	case b < first:
		return b, true
	case b < first+n:
		return -1, false
	}
	return b - n, true
}

func columnsWithout[T any](of [][]T, k int) [][]T {
	if of == nil {
		return nil
	}
	out := make([][]T, len(of))
	for g, row := range of {
		out[g] = slices.Delete(slices.Clone(row), k, k+1)
	}
	return out
}

// holdsWithout are the holds without site k. What is held in both reaches that
// become one is held there as their product; a reach held at 1 leaves the
// other's survival to be estimated.
func holdsWithout(in model.Input, k int) ([]model.Hold, error) {
	river := &in.Histories.River
	last := k == len(river.Sites)-1
	first, rows := river.FirstRow(k), river.Sites[k].RowCount()
	var out []model.Hold
	for _, x := range in.Holds {
		switch {
		case x.Reach < 0:
			b, ok := rowWithout(x.Row, first, rows)
			if !ok {
				continue
			}
			x.Row = b
		case x.Reach == k || x.Reach == k-1:
			if last {
				continue
			}
			// The other reach, held for at least the same fish.
			i := slices.IndexFunc(in.Holds, func(y model.Hold) bool { return y.Reach == 2*k-1-x.Reach && within(x.Where, y.Where) })
			if i < 0 {
				if x.Value == 1 {
					continue
				}
				return nil, fmt.Errorf("survival %s is held at %v; with the reach beyond %s in one it cannot be held", river.Reach(x.Reach), x.Value, river.Sites[k].Name)
			}
			if x.Reach == k && maps.Equal(x.Where, in.Holds[i].Where) {
				continue // with the hold of the reach above
			}
			x.Reach = k - 1
			x.Value *= in.Holds[i].Value
		case x.Reach > k:
			x.Reach--
		}
		out = append(out, x)
	}
	return out, nil
}

// within tells whether the fish of where a are among those of where b.
func within(a, b map[string]string) bool {
	for name, level := range b {
		if a[name] != level {
			return false
		}
	}
	return true
}

// riverWithout is the river without site k; the days of its two reaches add up.
func riverWithout(r history.River, k int) history.River {
	sites := slices.Clone(r.Sites)
	if k+1 < len(sites) {
		below := &sites[k+1]
		below.Days += sites[k].Days
		if _, ok := below.Attributes["days"]; ok {
			below.Attributes = maps.Clone(below.Attributes)
			delete(below.Attributes, "days")
			if !math.IsNaN(below.Days) {
				below.Attributes["days"] = below.Days
			}
		}
	}
	return history.River{Sites: slices.Delete(sites, k, k+1)}
}

func historiesWithout(h *history.Histories, k int) (out *history.Histories, note string) {
	masks := h.River.SiteMasks()
	lastSite := len(masks) - 1
	var keep []int
	entry := make([]uint8, h.Len())
	moved, never, taken := 0, 0, 0
	for i, e := range h.Entry {
		entry[i] = e
		if int(e) == k {
			next := k + 1
			for next <= lastSite && h.Seen[i]&masks[next] == 0 {
				next++
			}
			if next > lastSite {
				never += h.Weight(i)
				continue
			}
			moved += h.Weight(i)
			entry[i] = uint8(next)
		}
		keep = append(keep, i)
	}
	out = h.Pick(keep)
	out.River = riverWithout(h.River, k)
	first, rows, all := h.River.FirstRow(k), h.River.Sites[k].RowCount(), h.River.Rows()
	low := uint64(1)<<uint(first) - 1
	if moved > 0 && out.Again == nil {
		out.Again = make([]bool, len(keep))
	}
	for n, i := range keep {
		if int(h.Entry[i]) == k {
			out.Again[n] = true // nobody released it newly where it now enters
			out.Seen[n] &^= masks[entry[i]]
		}
		end := h.LastSite(i, masks)
		if h.End[i] != history.Open && end == k {
			if k == lastSite {
				// Nothing stood below, where it could have been seen.
				out.End[n] = history.Open
			} else {
				taken += h.Weight(i)
			}
		}
		out.Seen[n] = out.Seen[n]&low | out.Seen[n]>>uint(rows)&^low
		if out.Entry[n] = entry[i]; int(entry[i]) > k {
			out.Entry[n]--
		}
	}
	out.First, out.Last = timesWithout(out.First, all, first, rows), timesWithout(out.Last, all, first, rows)
	site := h.River.Sites[k].Name
	switch {
	case moved > 0:
		note = history.Say("%d fish that enter at %s enter where they were next detected; %d never detected again do not count", moved, site, never)
	case never > 0:
		note = history.Say("%d fish that enter at %s and were never detected again do not count", never, site)
	}
	if taken > 0 {
		if note != "" {
			note += "; "
		}
		note += history.Say("%d fish taken out at %s count as taken out where they were detected last above it, which alone lowers passed %% below", taken, site)
	}
	return out, note
}

// timesWithout takes rows first … first+n−1 out of times of all rows.
func timesWithout(times []int64, all, first, n int) []int64 {
	if times == nil {
		return nil
	}
	out := make([]int64, 0, len(times)/all*(all-n))
	for at := 0; at < len(times); at += all {
		out = append(out, times[at:at+first]...)
		out = append(out, times[at+first+n:at+all]...)
	}
	return out
}
