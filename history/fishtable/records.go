package fishtable

import (
	"hash/maphash"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// record is a record of the table on its way; there is one a fish, so it is
// kept small.
type record struct {
	key  uint64
	hash uint32 // of the whole record
	line int32
	// removed and shed are indices into the columns of times; -1 none.
	removed, shed int32
	entry         uint8
	site          int8 // where it was removed; -1
	// out is why the fish is left out of the histories.
	out     rule.ID
	twice   bool // the second tag of a fish tagged twice
	same    bool // a copy of an earlier record
	later   bool // released after the time that counts
	died    bool
	shedNow bool
}

// yesNo reads a cell that says yes or no.
func yesNo(cell string) (yes, ok bool) {
	switch strings.ToLower(cell) {
	case "", "na", "0", "no", "n", "false":
		return false, true
	case "1", "yes", "y", "true":
		return true, true
	}
	return false, false
}

func newLayout(t *table.Table, st *study.Study, form tagindex.Form) (*layout, error) {
	river := st.River()
	m := table.MapColumns(t, &st.Fish.Table)
	l := &layout{
		river: &river, names: river.SiteNames(), form: form,
		tag: m.Find("tag", true), released: m.Find("released", true), releasedAt: m.Second("released"), site: m.Find("site", false),
		removed: m.Find("removed", false), removedSite: m.Find("removed_site", false),
		died: m.Find("died", false), shed: m.Find("shed", false),
	}
	if l.second = -1; st.Fish.SecondTag != "" {
		l.second = m.Named(st.Fish.SecondTag, st.Fish.SecondTagPos, "to be the second tag")
	}
	l.cohort, l.cohortName = m.Cohort()
	l.columns, l.at = m.Attributes()
	released, err := table.NewFishTimes(st, false)
	if err != nil {
		return nil, err
	}
	released.AtDay = st.Fish.ReleasedAt
	removed, _ := table.NewFishTimes(st, true)
	l.times = timeColumns{released, removed, removed.Like()}
	return l, m.Faults.Err()
}

// records are records of the tagging table that follow one another.
type records struct {
	records []record
	texts   []string // the tags, where they are text
	timeColumns
	cohorts table.Category
	columns []*table.Column
	seconds []secondTag
	aside
}

// secondTag is that of a fish tagged twice, both as written.
type secondTag struct {
	second, first string
	line          int32
}

func (l *layout) newRecords() *records {
	f := &records{
		timeColumns: timeColumns{l.times.released.Like(), l.times.removed.Like(), l.times.shed.Like()},
	}
	for _, c := range l.columns {
		f.columns = append(f.columns, c.Like())
	}
	return f
}

// read reads at most so many records of a table, or of a part of one. Faults
// are noted in it.
func (l *layout) read(t *table.Table, most int) *records {
	f := l.newRecords()
	t.PassOver = l.passOver(&f.aside)
	for len(f.records) < most && t.Next() {
		if l.setAside(t, &f.aside) {
			continue
		}
		f.records = append(f.records, l.record(t, f))
		f.cohorts.Add(t.Cohort(l.cohort))
		for i, c := range f.columns {
			c.Add(t, l.at[i])
		}
	}
	f.empty = t.Empty()
	return f
}

// siteAt is the site that a field names; -1 where it is missing or there is no
// such column.
func (l *layout) siteAt(t *table.Table, column int) int {
	if column < 0 || t.Missing(column) {
		return -1
	}
	return t.Site(column, l.river)
}

// record reads a record but for its cohort and attributes.
func (l *layout) record(t *table.Table, f *records) record {
	r := record{line: int32(t.Line()), shed: -1, removed: -1, site: -1, hash: hashRecord(t)}
	var err error
	if r.key, err = l.form.KeyOf(t.Field(l.tag)); err != nil {
		t.Fault(l.tag, "%q: %v", t.Field(l.tag), err)
	}
	if t.Missing(l.released) {
		t.Fault(l.released, "the release time is missing")
	}
	if l.releasedAt >= 0 {
		f.released.AddJoined(t, l.released, l.releasedAt)
	} else {
		f.released.Add(t, l.released)
	}
	if l.form.Text {
		f.texts = append(f.texts, strings.Clone(t.Field(l.tag)))
	}
	if l.second >= 0 && !noTag(t.Field(l.second)) {
		if _, err := l.form.KeyOf(t.Field(l.second)); err != nil {
			t.Fault(l.second, "%q: %v", t.Field(l.second), err)
		}
		f.seconds = append(f.seconds, secondTag{strings.Clone(t.Field(l.second)), strings.Clone(t.Field(l.tag)), r.line})
	}
	r.entry = uint8(max(0, l.siteAt(t, l.site)))
	if l.died >= 0 {
		var ok bool
		if r.died, ok = yesNo(t.Field(l.died)); !ok {
			t.Fault(l.died, "%q is neither yes nor no", t.Field(l.died))
		}
	}
	if l.shed >= 0 {
		if yes, ok := yesNo(t.Field(l.shed)); ok {
			r.shedNow = yes
		} else {
			r.shed = int32(f.shed.Add(t, l.shed))
		}
	}
	taken := l.siteAt(t, l.removedSite)
	if l.removed >= 0 && !t.Missing(l.removed) {
		cell := t.Field(l.removed)
		if k := l.river.SiteIndex(cell); k >= 0 {
			if taken >= 0 && taken != k {
				t.Fault(l.removed, "removed at %q and at %q", cell, l.river.Sites[taken].Name)
			}
			taken = k
		} else if yes, ok := yesNo(cell); ok && taken >= 0 {
			if !yes {
				t.Fault(l.removed, "%q, but removed_site names a site", cell)
			}
		} else if c := cell[0]; c < '0' || c > '9' {
			t.Fault(l.removed, "%q is neither a site of the study nor a time%s", cell, history.Propose(cell, l.names))
		} else {
			r.removed = int32(f.removed.Add(t, l.removed))
		}
	}
	if taken >= 0 && taken < int(r.entry) {
		t.Fault(-1, "removed at %q, above %q where the fish enters", l.river.Sites[taken].Name, l.river.Sites[r.entry].Name)
	}
	r.site = int8(taken)
	return r
}

// join puts the records of the next part of the table behind those of f; false
// where they are written unlike.
func (f *records) join(t *table.Table, l *layout, o *records) bool {
	removed, shed := int32(f.removed.Len()), int32(f.shed.Len())
	from := len(f.records)
	f.records, f.texts = append(f.records, o.records...), append(f.texts, o.texts...)
	f.seconds = append(f.seconds, o.seconds...)
	for i := range f.records[from:] {
		r := &f.records[from+i]
		if r.removed >= 0 {
			r.removed += removed
		}
		if r.shed >= 0 {
			r.shed += shed
		}
	}
	f.cohorts.Join(&o.cohorts)
	f.aside.join(o.aside)
	ok := f.released.Join(t, l.released, o.released) && f.removed.Join(t, l.removed, o.removed) && f.shed.Join(t, l.shed, o.shed)
	for i := range f.columns {
		ok = ok && f.columns[i].Join(o.columns[i])
	}
	return ok
}

// grow makes room for n records.
func (f *records) grow(n int) {
	f.records, f.released.Ms, f.cohorts.Level = slices.Grow(f.records, n), slices.Grow(f.released.Ms, n), slices.Grow(f.cohorts.Level, n)
	for _, c := range f.columns {
		c.Grow(n)
	}
}

// settle reads the times that still wait.
func (f *records) settle(t *table.Table, l *layout) {
	f.released.Settle(t, l.released)
	f.removed.Settle(t, l.removed)
	f.shed.Settle(t, l.shed)
}

var recordSeed = maphash.MakeSeed()

// hashRecord tells records apart within one run.
func hashRecord(t *table.Table) uint32 {
	h := uint64(1)
	for i := range t.Header {
		h = (h ^ maphash.String(recordSeed, t.Field(i))) * 0x9E3779B97F4A7C15 // 2^64 over the golden ratio
	}
	return uint32(h >> 32)
}
