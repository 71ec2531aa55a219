package ready

import (
	"maps"
	"math"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// releaseCell is a record of the table: a cohort's releases at a site.
type releaseCell struct {
	line     int
	cohort   int32
	site     int
	released int
	next     []int // by site; 0 up to the release site
}

// readNextSeen reads a table of next-seen counts: one record a cohort and
// release site, with the columns cohort (where there are several),
// release_site, released (new and returned fish; those removed on being seen
// are not counted), and for each later site the number next seen there. Empty
// is 0.
//
// Each cell becomes a record of the histories that enters at the release site
// and is seen at the one site; the rest of the released are a record never
// seen again. Of the fish released at a site, as many as were seen there by
// the same table are fish returned, the others new; where fewer were released
// than seen, the difference was removed. Records stand in the order of cohort,
// release site and site, and within a release the new fish come first, so that
// the number of new fish is exact.
func readNextSeen(st *study.Study, t *table.Table) (*history.Histories, error) {
	h := &history.Histories{River: st.River()}
	m := table.MapColumns(t, st.NextSeen)
	for i := range h.River.Sites {
		if s := &h.River.Sites[i]; s.Divided() {
			m.Faults.Add(st.Sites[i].Pos, "site %q has rows; a next-seen table cannot tell which row saw a fish, give [histories] instead", s.Name)
		}
	}
	if len(st.NextSeen.Kinds) > 0 {
		first := slices.Sorted(maps.Keys(st.NextSeen.Kinds))[0]
		m.Faults.Add(st.NextSeen.KindPos[first], "a next-seen table has no attributes of fish; leave out kinds")
	}
	siteColumn := m.Find("release_site", true)
	released := m.Find("released", true)
	next := make([]int, len(h.River.Sites))
	for k := range next {
		next[k] = m.Find(h.River.Sites[k].Name, k > 0)
	}
	cohort, cohortName := m.Cohort()
	for _, name := range m.Unused() {
		m.Faults.Add(t.Pos(), "column %q has no place in a next-seen table; it holds cohort, release_site, released and a column for each site%s", name, history.Propose(name, append(h.River.SiteNames(), "cohort")))
	}
	if err := m.Faults.Err(); err != nil {
		return nil, err
	}

	var cohorts table.Category
	var cells []releaseCell
	type place struct {
		cohort int32
		site   int
	}
	lines := map[place]int{}
	fish := map[int32]int{}
	cohortLine := map[int32]int{}
	for t.Next() {
		c := releaseCell{line: t.Line(), next: make([]int, len(next))}
		c.cohort = cohorts.Add(t.Cohort(cohort))
		name := t.Field(siteColumn)
		if c.site = t.Site(siteColumn, &h.River); c.site < 0 {
			continue
		}
		if first, ok := lines[place{c.cohort, c.site}]; ok {
			t.Fault(-1, "the releases of this cohort at %q stand twice; first on line %d", name, first)
			continue
		}
		lines[place{c.cohort, c.site}] = t.Line()
		var ok bool
		c.released, ok = t.Count(released, 0, math.MaxInt32)
		sum := 0
		for k, column := range next {
			if column < 0 || t.Missing(column) {
				continue
			}
			n, sound := t.Count(column, 0, math.MaxInt32)
			ok = ok && sound
			if n > 0 && k <= c.site {
				t.Fault(column, "%d fish released at %q cannot be next seen at %q, which is not below it", n, name, h.River.Sites[k].Name)
				continue
			}
			c.next[k] = n
			sum += n
		}
		if ok && sum > c.released {
			t.Fault(released, "%d were released, but %d of them next seen", c.released, sum)
		}
		if _, ok := cohortLine[c.cohort]; !ok {
			cohortLine[c.cohort] = t.Line()
		}
		fish[c.cohort] += c.released
		cells = append(cells, c)
	}
	names, rank := cohorts.Ranks()
	if t.Err() == nil {
		for k, place := range rank {
			if fish[int32(k)] == 0 {
				t.FaultAt(cohortLine[int32(k)], "cohort %q has no fish; leave it out", names[place])
			}
		}
	}
	if err := t.Err(); err != nil {
		return nil, err
	}
	if len(cells) == 0 {
		t.FaultAt(t.Line(), "the table has a header but no releases")
		return nil, t.Err()
	}
	for i := range cells {
		cells[i].cohort = rank[cells[i].cohort]
	}
	h.Cohorts, h.CohortColumn = names, cohortName
	addReleases(h, cells)
	return h, nil
}

// addReleases writes the cells as records, new fish before returned ones.
func addReleases(h *history.Histories, cells []releaseCell) {
	slices.SortFunc(cells, func(a, b releaseCell) int {
		if a.cohort != b.cohort {
			return int(a.cohort - b.cohort)
		}
		return a.site - b.site
	})
	seen := map[int32][]int{}
	for _, c := range cells {
		if seen[c.cohort] == nil {
			seen[c.cohort] = make([]int, len(c.next))
		}
		for k, n := range c.next {
			seen[c.cohort][k] += n
		}
	}
	for _, c := range cells {
		fresh := max(0, c.released-seen[c.cohort][c.site])
		never := c.released
		record := func(n int, bit uint64, end history.End, again bool) {
			if n == 0 {
				return
			}
			h.Entry = append(h.Entry, uint8(c.site))
			h.Seen = append(h.Seen, bit)
			h.End = append(h.End, end)
			h.Again = append(h.Again, again)
			h.Count = append(h.Count, int32(n))
			h.Cohort = append(h.Cohort, c.cohort)
		}
		add := func(n int, bit uint64, end history.End) {
			first := min(n, fresh)
			fresh -= first
			record(first, bit, end, false)
			record(n-first, bit, end, true)
		}
		for k, n := range c.next {
			add(n, rowBit(k), history.Continued)
			never -= n
		}
		add(never, 0, history.Open)
	}
}

// rowBit is the bit of site k in a river without divided sites.
func rowBit(k int) uint64 {
	if k == 0 {
		return 0
	}
	return 1 << (k - 1)
}
