package ingest

import (
	"fmt"
	"hash/maphash"
	"os"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
)

// fishTable is the tagging table and what its tags stand for.
type fishTable struct {
	input history.Input
	notes []string
	// hist are the fish that were released, with their attributes; sightings
	// are still to come.
	hist *history.Histories
	// flags of the fish in hist.
	flags []Flag
	index *tagIndex
	// known is the number of fish and tags in the index; the first are those
	// of hist.
	known int
	// special are the fish with more to know than a release; the others are
	// plain.
	special  map[int32]*rule.Fish
	findings []finding
	removal  []removal
	total    int // fish in the table
}

// removal is a fish taken out, whose history must end at a site.
type removal struct {
	fish int32 // index into hist
	line int
	site int // -1 where only the time is known
}

// fishRecord is a record of the table on its way; there is one a fish, so it
// is kept small.
type fishRecord struct {
	key  uint64
	hash uint64 // of the whole record
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

// enoughTimes is how many times of a column are looked at in any case before
// its layout counts as settled; those after it that differ are faults.
const enoughTimes = 1000

// timeColumn gathers a column of times until its layout is settled.
type timeColumn struct {
	survey clock.Survey
	cells  []byte
	ends   []int32
	lines  []int32
}

func (c *timeColumn) add(cell string, line int) int {
	if cell != "" && (len(c.ends) < enoughTimes || !c.survey.Settled()) {
		c.survey.Add([]byte(cell), line)
	}
	c.cells = append(c.cells, cell...)
	c.ends, c.lines = append(c.ends, int32(len(c.cells))), append(c.lines, int32(line))
	return len(c.ends) - 1
}

func (c *timeColumn) cell(i int) []byte {
	from := int32(0)
	if i > 0 {
		from = c.ends[i-1]
	}
	return c.cells[from:c.ends[i]]
}

// moments are the times of a column in Unix milliseconds.
type moments struct {
	ms []int64
	// dayEnd is, for a date without a time of day, the last millisecond of
	// the day; else ms. nil where it is not wanted.
	dayEnd       []int64
	never, twice int
	firstDoubt   int32 // line
}

// settle reads the column. Values at fault are noted in t.
func (c *timeColumn) settle(t *read.Table, column int, order clock.Order, zone *clock.Zone, ends bool) (m moments, said string) {
	layout, said, err := c.survey.Settle(order)
	if err != nil {
		t.FaultAt(1, "column %q: %v", t.Header[column], err)
		return m, ""
	}
	m.ms = make([]int64, len(c.ends))
	if ends {
		m.dayEnd = make([]int64, len(c.ends))
	}
	cursor := zone.Cursor()
	for i := range m.ms {
		cell := c.cell(i)
		m.ms[i] = history.NoTime
		if len(cell) == 0 {
			continue
		}
		v, fault := layout.Parse(cell)
		if fault != clock.OK {
			t.FaultAt(int(c.lines[i]), "column %q: %q: %v", t.Header[column], cell, fault)
			continue
		}
		how := clock.Once
		end := v.Ms
		if v.DateOnly {
			end += 86_400_000
		}
		if !v.Absolute {
			v.Ms, how = cursor.Instant(v.Ms)
			end, _ = cursor.Instant(end)
		}
		if v.DateOnly {
			end--
			how = clock.Once // midnight stands for the day, not for itself
		}
		m.ms[i] = v.Ms
		if ends {
			m.dayEnd[i] = end
		}
		if how != clock.Once {
			if m.never+m.twice == 0 {
				m.firstDoubt = c.lines[i]
			}
			if how == clock.Never {
				m.never++
			} else {
				m.twice++
			}
		}
	}
	return m, said
}

// likelyRecords is about how many records a table has, by its size: growing
// by copying costs a large table time and memory.
func likelyRecords(path string) int {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return int(info.Size() / 48)
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

// readFish reads the tagging table. Its faults are returned together.
func readFish(st *study.Study, season rule.Season, off rule.Off, tags tagReader) (*fishTable, error) {
	t, err := read.Open(st.Fish.File)
	if err != nil {
		return nil, err
	}
	defer t.Close()
	river := st.River()
	m := newMapping(t, &st.Fish.Table)
	at := struct{ tag, released, site, removed, removedSite, died, shed int }{
		tag: m.find("tag", true), released: m.find("released", true), site: m.find("site", false),
		removed: m.find("removed", false), removedSite: m.find("removed_site", false),
		died: m.find("died", false), shed: m.find("shed", false),
	}
	cohort, cohortName := m.cohort()
	columns, where := m.attributes()
	if err := m.faults.Err(); err != nil {
		return nil, err
	}
	order, err := clock.ParseOrder(st.DateOrder)
	if err != nil {
		return nil, err
	}

	f := &fishTable{special: map[int32]*rule.Fish{}}
	records := make([]fishRecord, 0, likelyRecords(st.Fish.File))
	var texts []string
	var released, removed, shed timeColumn
	cohorts := cohortLevels{index: map[string]int32{}}
	names := siteNames(&river)
	siteAt := func(column int) int {
		if column < 0 || t.Missing(column) {
			return -1
		}
		k := river.SiteIndex(t.Field(column))
		if k < 0 {
			t.Fault(column, "the study has no site %q%s", t.Field(column), history.Propose(t.Field(column), names))
		}
		return k
	}
	for t.Next() {
		r := fishRecord{line: int32(t.Line()), shed: -1, removed: -1, site: -1, hash: hashRecord(t)}
		if t.Missing(at.tag) {
			t.Fault(at.tag, "the fish has no tag")
		} else if r.key, err = tags.keyOf(t.Field(at.tag)); err != nil {
			t.Fault(at.tag, "%q: %v", t.Field(at.tag), err)
		}
		if t.Missing(at.released) {
			t.Fault(at.released, "the release time is missing")
			released.add("", t.Line())
		} else {
			released.add(t.Field(at.released), t.Line())
		}
		if tags.text {
			texts = append(texts, strings.Clone(t.Field(at.tag)))
		}
		r.entry = uint8(max(0, siteAt(at.site)))
		if at.died >= 0 {
			var ok bool
			if r.died, ok = yesNo(t.Field(at.died)); !ok {
				t.Fault(at.died, "%q is neither yes nor no", t.Field(at.died))
			}
		}
		if at.shed >= 0 {
			if yes, ok := yesNo(t.Field(at.shed)); ok {
				r.shedNow = yes
			} else {
				r.shed = int32(shed.add(t.Field(at.shed), t.Line()))
			}
		}
		taken := siteAt(at.removedSite)
		if at.removed >= 0 && !t.Missing(at.removed) {
			cell := t.Field(at.removed)
			if k := river.SiteIndex(cell); k >= 0 {
				if taken >= 0 && taken != k {
					t.Fault(at.removed, "removed at %q and at %q", cell, river.Sites[taken].Name)
				}
				taken = k
			} else if yes, ok := yesNo(cell); ok && taken >= 0 {
				if !yes {
					t.Fault(at.removed, "%q, but removed_site names a site", cell)
				}
			} else if c := cell[0]; c < '0' || c > '9' {
				t.Fault(at.removed, "%q is neither a site of the study nor a time%s", cell, history.Propose(cell, names))
			} else {
				r.removed = int32(removed.add(cell, t.Line()))
			}
		}
		if taken >= 0 && taken < int(r.entry) {
			t.Fault(-1, "removed at %q, above %q where the fish enters", river.Sites[taken].Name, river.Sites[r.entry].Name)
		}
		r.site = int8(taken)
		cohorts.add(t, cohort, 1)
		for i, c := range columns {
			c.Add(t, where[i])
		}
		records = append(records, r)
	}
	zone := clock.NewZone(location(st.Location))
	relMs, said := released.settle(t, at.released, order, zone, false)
	var remMs, shedMs moments
	if at.removed >= 0 {
		remMs, _ = removed.settle(t, at.removed, order, zone, true)
	}
	if at.shed >= 0 {
		shedMs, _ = shed.settle(t, at.shed, order, zone, true)
	}
	if err := t.Err(); err != nil {
		return nil, err
	}
	if len(records) == 0 {
		return nil, fmt.Errorf("%s: the table has a header but no fish", t.File)
	}
	f.input = t.Input(st.Fish.Written)
	f.notes = t.Notes(st.Fish.Written)
	if said != "" {
		f.notes = append(f.notes, fmt.Sprintf("%s: %s", st.Fish.Written, said))
	}
	f.total = len(records)
	f.clockDoubts(&relMs, st.Fish.Written, zone)

	b := fishBuilder{f: f, st: st, tags: tags, records: records, texts: texts, name: st.Fish.Written}
	if err := b.sortOut(relMs.ms, season); err != nil {
		return nil, err
	}
	// The fish that were released, in the order of the table.
	var keep []int32
	for i := range records {
		if r := &records[i]; r.out == rule.None && !r.twice && !r.same && !r.later {
			keep = append(keep, int32(i))
		}
	}
	if len(keep) == 0 {
		return nil, fmt.Errorf("%s: no fish is left of %d: all are left out, as dead before release, sharing a tag, or released after as_of or last_day", t.File, len(records))
	}
	h := &history.Histories{River: river, CohortColumn: cohortName}
	h.Entry = make([]uint8, len(keep))
	h.Released = make([]int64, len(keep))
	h.Seen = make([]uint64, len(keep))
	h.End = make([]history.End, len(keep))
	for i, k := range keep {
		h.Entry[i], h.Released[i] = records[k].entry, relMs.ms[k]
	}
	h.Tag = b.packTags(keep)
	cohortNames, level := cohorts.finish()
	h.Cohorts, h.Cohort = pruneLevels(cohortNames, pick(level, keep))
	for _, c := range columns {
		col := c.Finish()
		if col.Level != nil {
			col.Levels, col.Level = pruneLevels(col.Levels, pick(col.Level, keep))
		} else {
			col.Value = pick(col.Value, keep)
		}
		h.Columns = append(h.Columns, col)
	}
	f.hist = h
	f.flags = make([]Flag, len(keep))

	if err := b.index(keep, relMs.ms, remMs.dayEnd, shedMs.dayEnd, season); err != nil {
		return nil, err
	}
	f.lookAtFish(st, off)
	return f, nil
}

func pick[T any](all []T, keep []int32) []T {
	if len(all) == len(keep) {
		return all
	}
	out := make([]T, len(keep))
	for i, k := range keep {
		out[i] = all[k]
	}
	return out
}

// pruneLevels drops the levels no fish has.
func pruneLevels(names []string, level []int32) ([]string, []int32) {
	used := make([]int32, len(names))
	for _, k := range level {
		if k >= 0 {
			used[k] = 1
		}
	}
	var out []string
	for k, name := range names {
		if used[k] == 0 {
			continue
		}
		used[k] = int32(len(out))
		out = append(out, name)
	}
	if len(out) == len(names) {
		return names, level
	}
	for i, k := range level {
		if k >= 0 {
			level[i] = used[k]
		}
	}
	return out, level
}

// text is a record's tag, where tags are text; else "".
func (b *fishBuilder) text(i int32) string {
	if b.texts == nil {
		return ""
	}
	return b.texts[i]
}

// packTags gives the tags of the kept fish as parts of one string: a string
// each would cost as much again in headers.
func (b *fishBuilder) packTags(keep []int32) []string {
	if b.texts != nil {
		return pick(b.texts, keep)
	}
	digits := make([]byte, 0, 15*len(keep))
	for _, k := range keep {
		digits = tagcode.Code(b.records[k].key).Append(digits)
	}
	all := string(digits)
	out := make([]string, len(keep))
	for i := range out {
		out[i] = all[15*i : 15*i+15]
	}
	return out
}

var recordSeed = maphash.MakeSeed()

// hashRecord tells records apart within one run.
func hashRecord(t *read.Table) uint64 {
	h := uint64(1)
	for i := range t.Header {
		h = (h ^ maphash.String(recordSeed, t.Field(i))) * 0x9E3779B97F4A7C15
	}
	return h
}

func (f *fishTable) clockDoubts(m *moments, name string, zone *clock.Zone) {
	if n := m.never + m.twice; n > 0 {
		f.findings = append(f.findings, finding{
			Finding: history.Finding{
				ID: "doubtful_release_time", Count: int64(n), Example: fmt.Sprintf("%s:%d", name, m.firstDoubt),
				Message: fmt.Sprintf("%d release times fall into a clock change of %s: %d never existed, %d existed twice", n, zone, m.never, m.twice),
				Advice:  "write the times with their offset, as 2025-10-26 01:30+01:00; until then one that existed twice is the first, one that never existed is read with the offset before the change",
			},
			impact: float64(n) / float64(f.total),
		})
	}
}
