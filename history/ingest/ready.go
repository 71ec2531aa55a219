package ingest

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/read"
	"example.org/unseen/history/study"
)

// ReadHistories reads the table of a [histories] study: one record a fish (or
// count fish alike), with 0 or 1 for each site, "Site/row" where a site is
// divided; optional columns fish, released, removed and count; and any
// attributes. The first 1 in downstream order is where the fish entered. All
// faults of the table are returned together, as *[history.Faults].
func ReadHistories(st *study.Study) (*history.Histories, []history.Input, error) {
	r, err := ready(context.Background(), st, st.Histories, "[histories]", readHistories)
	if err != nil {
		return nil, nil, err
	}
	return r.Histories, r.Inputs, nil
}

// ready takes a table that needs no sightings.
func ready(ctx context.Context, st *study.Study, conf *study.Table, title string, take func(*study.Study, *read.Table) (*history.Histories, error)) (*Result, error) {
	if conf == nil {
		return nil, fmt.Errorf("the study has no %s", title)
	}
	t, err := read.OpenContext(ctx, conf.File)
	if err != nil {
		return nil, err
	}
	defer t.Close()
	h, err := take(st, t)
	if err != nil {
		return nil, err
	}
	out := &Result{Histories: h, Inputs: []history.Input{t.Input(conf.Written)}, Notes: t.Notes(conf.Written)}
	if conf == st.Histories {
		out.Findings = ordered(nearTable(t, conf, optionalHistories, conf.Written))
	}
	return out, nil
}

// mapping finds a table's columns by our names for them.
type mapping struct {
	t      *read.Table
	conf   *study.Table
	used   []bool
	faults history.Faults
}

func newMapping(t *read.Table, conf *study.Table) *mapping {
	return &mapping{t: t, conf: conf, used: make([]bool, len(t.Header))}
}

// find is the index of the column we call ours; -1 where there is none, which
// is a fault where it is needed or the study names it.
func (m *mapping) find(ours string, needed bool) int {
	name := m.conf.Column(ours)
	i := m.t.Column(name)
	if i >= 0 {
		if m.used[i] {
			m.faults.Add(m.pos(m.conf.ColumnPos[ours]), "column %q is used twice", name)
		}
		m.used[i] = true
		return i
	}
	if pos, mapped := m.conf.ColumnPos[ours]; mapped {
		m.faults.Add(pos, "%s has no column %q for %s%s; it has %s", m.t.File, name, ours, history.Propose(name, m.free()), m.columns())
	} else if needed {
		m.faults.Add(m.t.Pos(), "no column %q%s; the table has %s", name, history.Propose(name, m.free()), m.columns())
	}
	return -1
}

// pos is p, or the table's header where the study has no place for it.
func (m *mapping) pos(p history.Pos) history.Pos {
	if p.Line == 0 {
		return m.t.Pos()
	}
	return p
}

func (m *mapping) columns() string { return strings.Join(m.t.Columns(), ", ") }

// free are the columns not yet used, for proposals.
func (m *mapping) free() []string {
	var out []string
	for i, name := range m.t.Header {
		if !m.used[i] && name != "" {
			out = append(out, name)
		}
	}
	return out
}

// ours is what the study calls column i of the table.
func (m *mapping) ours(i int) string {
	for _, ours := range sortedKeys(m.conf.Columns) {
		if m.conf.Columns[ours] == m.t.Header[i] {
			return ours
		}
	}
	return m.t.Header[i]
}

// cohort finds the column that is the cohort, by our name or the table's;
// without one the study names, "cohort".
func (m *mapping) cohort() (int, string) {
	name := m.conf.Cohort
	if name == "" {
		if name = "cohort"; m.t.Column(m.conf.Column(name)) < 0 {
			if _, mapped := m.conf.ColumnPos[name]; !mapped {
				return -1, ""
			}
		}
		return m.find(name, true), name
	}
	i := m.t.Column(m.conf.Column(name))
	if i < 0 || m.used[i] {
		m.faults.Add(m.conf.CohortPos, "%s has no column %q to be the cohort%s; it has %s", m.t.File, name, history.Propose(name, m.free()), m.columns())
		return -1, name
	}
	m.used[i] = true
	return i, name
}

// siteColumns is where a site's 0 and 1 stand in the table.
type siteColumns struct {
	name    string
	columns []int
	bits    []uint64 // 0 at the first site, which has no rows
}

func readHistories(st *study.Study, t *read.Table) (*history.Histories, error) {
	h := &history.Histories{River: st.River()}
	m := newMapping(t, st.Histories)
	sites := m.sites(&h.River)
	fish := m.find("fish", false)
	released := m.find("released", false)
	removed := m.find("removed", false)
	count := m.find("count", false)
	cohort, cohortName := m.cohort()
	columns, at := m.attributes()
	if err := m.faults.Err(); err != nil {
		return nil, err
	}

	cohorts := cohortLevels{index: map[string]int32{}}
	times, err := newTimeColumn(st, false)
	if err != nil {
		return nil, err
	}
	lines := map[string]int{}
	for t.Next() {
		entry, seen, last, sound := seenAt(t, sites)
		switch {
		case !sound:
		case entry < 0:
			t.Fault(-1, "the fish was seen at no site: the record has no 1")
		}
		end := history.Open
		if removed >= 0 && !t.Missing(removed) {
			end = history.Removed
			where := t.Field(removed)
			k := h.River.SiteIndex(where)
			switch {
			case k < 0:
				t.Fault(removed, "the study has no site %q%s", where, history.Propose(where, siteNames(&h.River)))
			case !sound || entry < 0:
			case k > last:
				t.Fault(removed, "removed at %q, where the fish was not seen: its last 1 is at %q", where, sites[last].name)
			case k < last:
				t.Fault(removed, "removed at %q, but seen later at %q", where, sites[last].name)
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
			times.addField(t, released)
		}
		cohorts.add(t, cohort, 1)
		for i, c := range columns {
			c.Add(t, at[i])
		}
		h.Entry = append(h.Entry, uint8(max(entry, 0)))
		h.Seen = append(h.Seen, seen)
		h.End = append(h.End, end)
	}
	if released >= 0 {
		h.Released = times.instants(t, released)
	}
	if err := t.Err(); err != nil {
		return nil, err
	}
	if h.Len() == 0 {
		t.FaultAt(t.Line(), "the table has a header but no fish")
		return nil, t.Err()
	}
	h.Cohorts, h.Cohort = cohorts.finish()
	h.CohortColumn = cohortName
	for _, c := range columns {
		h.Columns = append(h.Columns, c.Finish())
	}
	return h, nil
}

// sites finds the columns of every site. The first site's rows are of no
// interest: fish are released there, whichever row may have read them.
func (m *mapping) sites(r *history.River) []siteColumns {
	out := make([]siteColumns, len(r.Sites))
	for k := range r.Sites {
		s := &r.Sites[k]
		x := siteColumns{name: s.Name}
		if !s.Divided() || k == 0 && m.t.Column(m.conf.Column(s.Name)) >= 0 {
			x.columns = []int{m.find(s.Name, true)}
		} else {
			for _, row := range s.Rows {
				x.columns = append(x.columns, m.find(s.Name+"/"+row, true))
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

// attributes takes every column that is left as an attribute of the fish.
func (m *mapping) attributes() (columns []*read.Column, at []int) {
	var names []string
	for i, header := range m.t.Header {
		if m.used[i] || header == "" {
			continue
		}
		name := m.ours(i)
		if slices.Contains(study.Reserved, name) {
			m.faults.Add(m.t.Pos(), "%q is a word of the model language and cannot name a column; rename it with columns = { other_name = %q }", name, header)
		}
		if slices.Contains(names, name) {
			m.faults.Add(m.t.Pos(), "two columns are called %q", name)
		}
		names = append(names, name)
		columns, at = append(columns, read.NewColumn(name, m.conf.Kinds[name])), append(at, i)
	}
	for _, name := range sortedKeys(m.conf.Kinds) {
		if !slices.Contains(names, name) {
			m.faults.Add(m.conf.KindPos[name], "kinds names %q, which is no attribute of %s%s; its attributes are %s",
				name, m.t.File, history.Propose(name, names), strings.Join(names, ", "))
		}
	}
	for _, ours := range sortedKeys(m.conf.Columns) {
		if m.t.Column(m.conf.Columns[ours]) < 0 {
			m.find(ours, true)
		}
	}
	return columns, at
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func siteNames(r *history.River) []string {
	out := make([]string, len(r.Sites))
	for i := range r.Sites {
		out[i] = r.Sites[i].Name
	}
	return out
}

// seenAt reads a record's 0 and 1: entry is the first site with a 1 (-1: none),
// last the last; seen has the bits of the rows below entry.
func seenAt(t *read.Table, sites []siteColumns) (entry int, seen uint64, last int, sound bool) {
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

// cohortLevels gathers the cohort of each record.
type cohortLevels struct {
	index map[string]int32
	level []int32
}

// add takes the record's cohort, for times records; column -1 is the single
// cohort of a study without cohorts.
func (c *cohortLevels) add(t *read.Table, column, times int) int32 {
	name := "all"
	if column >= 0 {
		if name = t.Field(column); t.Missing(column) {
			t.Fault(column, "the cohort is missing")
			name = ""
		}
	}
	k, ok := c.index[name]
	if !ok {
		k = int32(len(c.index))
		c.index[strings.Clone(name)] = k
	}
	for range times {
		c.level = append(c.level, k)
	}
	return k
}

func (c *cohortLevels) finish() ([]string, []int32) { return read.Levels(c.index, c.level) }
