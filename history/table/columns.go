package table

import (
	"maps"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// ColumnMap finds a table's columns by our names for them, as the study maps
// these to the table's own.
type ColumnMap struct {
	// Faults are what does not fit between the study and the header.
	Faults history.Faults

	t    *Table
	conf *study.Table
	used []bool
	part []bool // of a joined column, and no attribute
	// missing are the columns told to be, by our names, each told once.
	missing map[string]bool
}

// MapColumns starts with no column found. Without a conf no column is named
// otherwise.
func MapColumns(t *Table, conf *study.Table) *ColumnMap {
	if t == nil {
		t = &Table{}
	}
	if conf == nil {
		conf = &study.Table{}
	}
	m := &ColumnMap{t: t, conf: conf, used: make([]bool, len(t.Header)), part: make([]bool, len(t.Header)), missing: map[string]bool{}}
	for i, name := range t.Header {
		m.part[i] = slices.ContainsFunc(conf.Joins, func(j study.Join) bool { return slices.Contains(j.Columns, name) })
	}
	return m
}

// Find is the index of the column we call ours; -1 where there is none, which
// is a fault where it is needed or the study names it.
func (m *ColumnMap) Find(ours string, needed bool) int {
	if m.t == nil {
		return -1
	}
	name := m.conf.Column(ours)
	i := m.t.Column(name)
	if i >= 0 {
		if m.used[i] {
			m.Faults.Add(m.pos(m.conf.ColumnPos[ours]), "column %q is used twice", name)
		}
		m.used[i] = true
		return i
	}
	if m.missing[ours] {
		return -1
	}
	if pos, mapped := m.conf.ColumnPos[ours]; mapped {
		m.missing[ours] = true
		m.Faults.Add(pos, "%s has no column %q for %s; it has %s%s", m.t.File, name, ours, m.names(), history.Propose(name, m.Unused()))
	} else if needed {
		m.Faults.Add(m.t.Pos(), "no column %q; the table has %s%s", name, m.names(), history.Propose(name, m.Unused()))
	}
	return -1
}

// Second is the index of the second column of what we call ours, where the study
// joins two; -1 where it does not.
func (m *ColumnMap) Second(ours string) int {
	if m.t == nil {
		return -1
	}
	name, joined := m.conf.Joined[ours]
	if !joined {
		return -1
	}
	return m.Named(name, m.conf.ColumnPos[ours], "to join")
}

// Named is the index of a column that the study names at a place, to some end;
// -1, which is a fault, where the table has no such column that is still unused.
func (m *ColumnMap) Named(name string, pos history.Pos, to string) int {
	if m.t == nil {
		return -1
	}
	i := m.t.Column(name)
	if i < 0 || m.used[i] {
		m.Faults.Add(m.pos(pos), "%s has no other column %q %s; it has %s%s", m.t.File, name, to, m.names(), history.Propose(name, m.Unused()))
		return -1
	}
	m.used[i] = true
	return i
}

// pos is p, or the table's header where the study has no place for it.
func (m *ColumnMap) pos(p history.Pos) history.Pos {
	if p.Line == 0 {
		return m.t.Pos()
	}
	return p
}

func (m *ColumnMap) names() string { return strings.Join(m.t.Columns(), ", ") }

// Unused are the names of the columns not yet found.
func (m *ColumnMap) Unused() []string {
	var out []string
	if m.t == nil {
		return nil
	}
	for i, name := range m.t.Header {
		if !m.used[i] && name != "" {
			out = append(out, name)
		}
	}
	return out
}

// ours is what the study calls column i of the table.
func (m *ColumnMap) ours(i int) string {
	for _, ours := range slices.Sorted(maps.Keys(m.conf.Columns)) {
		if m.conf.Columns[ours] == m.t.Header[i] {
			return ours
		}
	}
	return m.t.Header[i]
}

// Cohort finds the column that is the cohort, by our name or the table's;
// without one the study names, "cohort".
func (m *ColumnMap) Cohort() (int, string) {
	if m.t == nil {
		return -1, ""
	}
	name := m.conf.Cohort
	if name == "" {
		if name = "cohort"; m.t.Column(m.conf.Column(name)) < 0 {
			if _, mapped := m.conf.ColumnPos[name]; !mapped {
				return -1, ""
			}
		}
		return m.Find(name, true), name
	}
	i := m.t.Column(m.conf.Column(name))
	if i < 0 || m.used[i] {
		m.Faults.Add(m.conf.CohortPos, "%s has no column %q to be the cohort; it has %s%s", m.t.File, name, m.names(), history.Propose(name, m.Unused()))
		m.missing["cohort"] = true
		return -1, name
	}
	m.used[i] = true
	return i, name
}

// Rest takes every column that is left: what it is called in the study, and its
// index. what says in messages what such a column holds.
func (m *ColumnMap) Rest(what string) (names []string, at []int) {
	if m.t == nil {
		return nil, nil
	}
	taken := map[string]bool{}
	for i, header := range m.t.Header {
		if m.used[i] || m.part[i] || header == "" {
			continue
		}
		name := m.ours(i)
		if slices.Contains(study.Reserved, name) && !m.missing[name] {
			m.Faults.Add(m.t.Pos(), "%q is a word of the model language and cannot name a %s; rename it with columns = { other_name = %q }", name, what, header)
		}
		if taken[name] {
			m.Faults.Add(m.t.Pos(), "two columns are called %q", name)
		}
		taken[name] = true
		names, at = append(names, name), append(at, i)
	}
	return names, at
}

// Attributes takes every column that is left as an attribute of the fish.
func (m *ColumnMap) Attributes() (columns []*Column, at []int) {
	names, at := m.Rest("column")
	if m.t == nil {
		return nil, nil
	}
	for _, name := range names {
		columns = append(columns, NewColumn(name, m.conf.Kinds[name]))
	}
	for _, name := range slices.Sorted(maps.Keys(m.conf.Kinds)) {
		if !slices.Contains(names, name) {
			m.Faults.Add(m.conf.KindPos[name], "kinds names %q, which is no attribute of %s; its attributes are %s%s",
				name, m.t.File, strings.Join(names, ", "), history.Propose(name, names))
		}
	}
	for _, ours := range slices.Sorted(maps.Keys(m.conf.Columns)) {
		if m.t.Column(m.conf.Columns[ours]) < 0 {
			m.Find(ours, true)
		}
	}
	return columns, at
}
