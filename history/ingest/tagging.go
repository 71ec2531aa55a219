package ingest

import (
	"context"
	"hash/maphash"
	"math"
	"slices"
	"strings"
	"sync"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
)

// fishRecord is a record of the table on its way; there is one a fish, so it
// is kept small.
type fishRecord struct {
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

// fishLayout is where the columns of the tagging table stand; -1 where there is
// none.
type fishLayout struct {
	river *history.River
	names []string // of the sites
	tags  tagReader

	tag, released, site, removed, removedSite, died, shed int
	cohort                                                int
	cohortName                                            string
	columns                                               []*read.Column // one of each, empty
	at                                                    []int          // theirs
	times                                                 fishTimes
}

// fishTimes are a table's columns of times, as far as their layouts are known.
type fishTimes struct{ released, removed, shed *timeColumn }

func newFishLayout(t *read.Table, st *study.Study, tags tagReader) (*fishLayout, error) {
	river := st.River()
	m := newMapping(t, &st.Fish.Table)
	l := &fishLayout{
		river: &river, names: siteNames(&river), tags: tags,
		tag: m.find("tag", true), released: m.find("released", true), site: m.find("site", false),
		removed: m.find("removed", false), removedSite: m.find("removed_site", false),
		died: m.find("died", false), shed: m.find("shed", false),
	}
	l.cohort, l.cohortName = m.cohort()
	l.columns, l.at = m.attributes()
	order, err := clock.ParseOrder(st.DateOrder)
	if err != nil {
		return nil, err
	}
	zone := clock.NewZone(location(st.Location))
	l.times = fishTimes{startTimes(order, zone, false), startTimes(order, zone, true), startTimes(order, zone, true)}
	return l, m.faults.Err()
}

// fishRecords are records of the tagging table that follow one another.
type fishRecords struct {
	records []fishRecord
	texts   []string // the tags, where they are text
	fishTimes
	cohorts cohortLevels
	columns []*read.Column
}

func (l *fishLayout) newRecords() *fishRecords {
	f := &fishRecords{
		fishTimes: fishTimes{l.times.released.like(), l.times.removed.like(), l.times.shed.like()},
		cohorts:   cohortLevels{index: map[string]int32{}},
	}
	for _, c := range l.columns {
		f.columns = append(f.columns, c.Like())
	}
	return f
}

// read reads at most so many records of a table, or of a part of one. Faults
// are noted in it.
func (l *fishLayout) read(t *read.Table, most int) *fishRecords {
	f := l.newRecords()
	for n := 0; n < most && t.Next(); n++ {
		f.records = append(f.records, l.record(t, f))
		f.cohorts.add(t, l.cohort, 1)
		for i, c := range f.columns {
			c.Add(t, l.at[i])
		}
	}
	return f
}

// siteAt is the site that a field names; -1 where it is missing or there is no
// such column.
func (l *fishLayout) siteAt(t *read.Table, column int) int {
	if column < 0 || t.Missing(column) {
		return -1
	}
	k := l.river.SiteIndex(t.Field(column))
	if k < 0 {
		t.Fault(column, "the study has no site %q%s", t.Field(column), history.Propose(t.Field(column), l.names))
	}
	return k
}

// record reads a record but for its cohort and attributes.
func (l *fishLayout) record(t *read.Table, f *fishRecords) fishRecord {
	r := fishRecord{line: int32(t.Line()), shed: -1, removed: -1, site: -1, hash: hashRecord(t)}
	var err error
	if t.Missing(l.tag) {
		t.Fault(l.tag, "the fish has no tag")
	} else if r.key, err = l.tags.keyOf(t.Field(l.tag)); err != nil {
		t.Fault(l.tag, "%q: %v", t.Field(l.tag), err)
	}
	if t.Missing(l.released) {
		t.Fault(l.released, "the release time is missing")
		f.released.add(t, l.released, "", t.Line())
	} else {
		f.released.add(t, l.released, t.Field(l.released), t.Line())
	}
	if l.tags.text {
		f.texts = append(f.texts, strings.Clone(t.Field(l.tag)))
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
			r.shed = int32(f.shed.add(t, l.shed, t.Field(l.shed), t.Line()))
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
			r.removed = int32(f.removed.add(t, l.removed, cell, t.Line()))
		}
	}
	if taken >= 0 && taken < int(r.entry) {
		t.Fault(-1, "removed at %q, above %q where the fish enters", l.river.Sites[taken].Name, l.river.Sites[r.entry].Name)
	}
	r.site = int8(taken)
	return r
}

// fishJoin puts the parts of the tagging table together, in their order.
type fishJoin struct {
	mu     sync.Mutex
	layout *fishLayout
	head   *read.Table
	all    *fishRecords
	next   int // the part that comes next
	ahead  map[int]*fishRecords
	odd    bool // the parts do not fit together
}

// add takes part number n.
func (j *fishJoin) add(n int, f *fishRecords) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.ahead[n] = f
	for f = j.ahead[j.next]; f != nil; f = j.ahead[j.next] {
		delete(j.ahead, j.next)
		j.next++
		j.odd = j.odd || !j.all.join(j.head, j.layout, f)
	}
}

// join puts the records of the next part of the table behind those of f; false
// where they are written unlike.
func (f *fishRecords) join(t *read.Table, l *fishLayout, o *fishRecords) bool {
	removed, shed := int32(f.removed.count()), int32(f.shed.count())
	from := len(f.records)
	f.records, f.texts = append(f.records, o.records...), append(f.texts, o.texts...)
	for i := range f.records[from:] {
		r := &f.records[from+i]
		if r.removed >= 0 {
			r.removed += removed
		}
		if r.shed >= 0 {
			r.shed += shed
		}
	}
	f.cohorts.level = read.JoinLevels(f.cohorts.index, f.cohorts.level, o.cohorts.index, o.cohorts.level)
	ok := f.released.join(t, l.released, o.released) && f.removed.join(t, l.removed, o.removed) && f.shed.join(t, l.shed, o.shed)
	for i := range f.columns {
		ok = ok && f.columns[i].Join(o.columns[i])
	}
	return ok
}

// grow makes room for n records.
func (f *fishRecords) grow(n int) {
	f.records, f.released.ms, f.cohorts.level = slices.Grow(f.records, n), slices.Grow(f.released.ms, n), slices.Grow(f.cohorts.level, n)
	for _, c := range f.columns {
		c.Grow(n)
	}
}

// settle reads the times that still wait.
func (f *fishRecords) settle(t *read.Table, l *fishLayout) {
	f.released.settle(t, l.released)
	if l.removed >= 0 {
		f.removed.settle(t, l.removed)
	}
	if l.shed >= 0 {
		f.shed.settle(t, l.shed)
	}
}

// readTable reads the tagging table, in parts where that can be.
func readTable(ctx context.Context, st *study.Study, tags tagReader, workers int) (*read.Table, *fishLayout, *fishRecords, error) {
	if p := read.OpenParts(st.Fish.File); p != nil {
		if t, l, f := readParts(ctx, p, st, tags, workers); f != nil {
			return t, l, f, nil
		}
	}
	t, err := read.OpenContext(ctx, st.Fish.File)
	if err != nil {
		return nil, nil, nil, err
	}
	defer t.Close()
	l, err := newFishLayout(t, st, tags)
	if err != nil {
		return nil, nil, nil, err
	}
	f := l.read(t, math.MaxInt)
	f.settle(t, l)
	return t, l, f, t.Err()
}

// readParts reads the tagging table in parts; nil where it must be read as one,
// whatever the reason.
func readParts(ctx context.Context, p *read.Parts, st *study.Study, tags tagReader, workers int) (*read.Table, *fishLayout, *fishRecords) {
	defer p.Close()
	l, err := newFishLayout(p.Head(), st, tags)
	if err != nil {
		return nil, nil, nil
	}
	// How times are written is told by the first, as when all are read as one.
	l.times = l.read(p.Start(), enoughTimes).fishTimes
	j := &fishJoin{layout: l, head: p.Head(), all: l.newRecords(), ahead: map[int]*fishRecords{}}
	j.all.grow(p.Likely())
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for t, n := p.Next(); t != nil && ctx.Err() == nil; t, n = p.Next() {
				f := l.read(t, math.MaxInt)
				p.Took(t)
				j.add(n, f)
			}
		})
	}
	wg.Wait()
	if ctx.Err() != nil {
		return nil, nil, nil
	}
	t, ok := p.Whole()
	if j.all.settle(t, l); !ok || j.odd || t.Err() != nil {
		return nil, nil, nil
	}
	return t, l, j.all
}

var recordSeed = maphash.MakeSeed()

// hashRecord tells records apart within one run.
func hashRecord(t *read.Table) uint32 {
	h := uint64(1)
	for i := range t.Header {
		h = (h ^ maphash.String(recordSeed, t.Field(i))) * scatter
	}
	return uint32(h >> 32)
}
