// Package ready reads the tables of studies that need no sightings: ready
// detection histories, and next-seen counts.
//
// Begin with [Read]; ExampleRead and ExampleRead_counts show it. Counts are
// fish.
package ready

import (
	"context"
	"errors"
	"math"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// Read reads the table of a [histories] or [next_seen] study; from is the table
// that was read, with its notes. All faults of the table are returned together,
// as *[history.Faults].
func Read(st *study.Study) (h *history.Histories, from *table.Table, err error) {
	return ReadContext(context.Background(), st)
}

// ReadContext is [Read] until ctx ends.
func ReadContext(ctx context.Context, st *study.Study) (h *history.Histories, from *table.Table, err error) {
	if err := st.Check(); err != nil {
		return nil, nil, err
	}
	conf, take := st.Histories, readHistories
	if conf == nil {
		conf, take = st.NextSeen, readNextSeen
	}
	if conf == nil {
		return nil, nil, errors.New("the study has no [histories] and no [next_seen]")
	}
	t, err := table.OpenFor(ctx, conf)
	if err != nil {
		return nil, nil, err
	}
	defer t.Close()
	if h, err = take(st, t); err != nil {
		return nil, nil, err
	}
	return h, t, nil
}

// optional are the columns with a meaning that a table of histories can do
// without.
var optional = []string{"fish", "released", "removed", "count", "cohort"}

// siteColumns is where a site's 0 and 1 stand in the table.
type siteColumns struct {
	name    string
	columns []int
	bits    []uint64 // 0 at the first site, which has no rows
}

// readHistories reads a table of detection histories: one record a fish (or
// count fish alike), with 0 or 1 for each site, "Site/row" where a site is
// divided; optional columns fish, released, removed and count; and any
// attributes. The first 1 in downstream order is where the fish entered.
func readHistories(st *study.Study, t *table.Table) (*history.Histories, error) {
	h := &history.Histories{River: st.River()}
	t.FindNear(st.Histories, optional)
	m := table.MapColumns(t, st.Histories)
	sites := findSites(m, &h.River, t, st.Histories)
	fish := m.Find("fish", false)
	released := m.Find("released", false)
	removed := m.Find("removed", false)
	count := m.Find("count", false)
	cohort, cohortName := m.Cohort()
	columns, at := m.Attributes()
	if err := m.Faults.Err(); err != nil {
		return nil, err
	}

	var cohorts table.Category
	times, err := table.NewTimes(st, false)
	if err != nil {
		return nil, err
	}
	lines := map[string]int{}
	for t.Next() {
		entry, seen, last, sound := seenAt(t, sites)
		switch {
		case !sound:
		case entry < 0:
			t.Fault(-1, "the fish was detected at no site: the record has no 1")
		}
		end := history.Open
		if removed >= 0 && !t.Missing(removed) {
			end = history.Removed
			where := t.Field(removed)
			k := t.Site(removed, &h.River)
			switch {
			case k < 0 || !sound || entry < 0:
			case k > last:
				t.Fault(removed, "removed at %q, where the fish was not detected: its last 1 is at %q", where, sites[last].name)
			case k < last:
				t.Fault(removed, "removed at %q, but detected later at %q", where, sites[last].name)
			}
		}
		n := 1
		if count >= 0 {
			n, _ = t.Count(count, 1, math.MaxInt32)
			h.Count = append(h.Count, int32(n))
		}
		if fish >= 0 {
			name := strings.Clone(t.Field(fish))
			if first, ok := lines[name]; ok {
				t.Fault(fish, "fish %q stands twice; first on line %d", name, first)
			} else if t.Missing(fish) {
				t.Fault(fish, "the fish has no name")
			} else {
				lines[name] = t.Line()
			}
			h.Tag = append(h.Tag, name)
		}
		if released >= 0 {
			times.Add(t, released)
		}
		cohorts.Add(t.Cohort(cohort))
		for i, c := range columns {
			c.Add(t, at[i])
		}
		h.Entry = append(h.Entry, uint8(max(entry, 0)))
		h.Seen = append(h.Seen, seen)
		h.End = append(h.End, end)
	}
	if released >= 0 {
		h.Released = times.Instants(t, released)
	}
	if err := t.Err(); err != nil {
		return nil, err
	}
	if h.Len() == 0 {
		t.FaultAt(t.Line(), "the table has a header but no fish")
		return nil, t.Err()
	}
	h.Cohorts, h.Cohort = cohorts.Finish()
	h.CohortColumn = cohortName
	for _, c := range columns {
		h.Columns = append(h.Columns, c.Finish())
	}
	return h, nil
}

// findSites finds the columns of every site. The first site's rows are of no
// interest: fish are released there, whichever row may have read them.
func findSites(m *table.ColumnMap, r *history.River, t *table.Table, conf *study.Table) []siteColumns {
	out := make([]siteColumns, len(r.Sites))
	for k := range r.Sites {
		s := &r.Sites[k]
		x := siteColumns{name: s.Name}
		if !s.Divided() || k == 0 && t.Column(conf.Column(s.Name)) >= 0 {
			x.columns = []int{m.Find(s.Name, true)}
		} else {
			for _, row := range s.Rows {
				x.columns = append(x.columns, m.Find(s.Name+"/"+row, true))
			}
		}
		x.bits = make([]uint64, len(x.columns))
		if k > 0 {
			for i := range x.bits {
				x.bits[i] = 1 << (r.FirstRow(k) + i)
			}
		}
		out[k] = x
	}
	return out
}

// seenAt reads a record's 0 and 1: entry is the first site with a 1 (-1: none),
// last the last; seen has the bits of the rows below entry.
func seenAt(t *table.Table, sites []siteColumns) (entry int, seen uint64, last int, sound bool) {
	entry, last, sound = -1, -1, true
	for k := range sites {
		var bits uint64
		hit := false
		for i, c := range sites[k].columns {
			switch t.Field(c) {
			case "1":
				hit = true
				bits |= sites[k].bits[i]
			case "0":
			default:
				t.Fault(c, "%q is not 0 or 1", t.Field(c))
				sound = false
			}
		}
		if !hit {
			continue
		}
		last = k
		if entry < 0 {
			entry = k
			continue
		}
		seen |= bits
	}
	return entry, seen, last, sound
}
