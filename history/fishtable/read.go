package fishtable

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// optional are the columns with a meaning that the table can do without.
var optional = []string{"site", "removed", "removed_site", "died", "shed", "cohort", "species", "length_mm", "fork_length_mm", "weight_g", "tag_mm", "tag_weight_g"}

// Read reads the tagging table of a study, on so many cores. Its faults are
// returned together.
func Read(ctx context.Context, st *study.Study, season rule.Season, form tagindex.Form, workers int) (*Table, error) {
	if err := st.Check(); err != nil {
		return nil, err
	}
	if st.Fish == nil {
		return nil, errors.New("the study has no [fish]")
	}
	t, l, recs, err := readTable(ctx, st, form, workers)
	if err != nil {
		return nil, err
	}
	t.FindNear(&st.Fish.Table, optional)
	f := &Table{Input: t.Input(), Notes: t.Notes(), Findings: t.Findings, Special: map[int32]*rule.Fish{}, Total: len(recs.records)}
	if n := len(recs.noTag); f.Total == 0 && n > 0 {
		why := ""
		if recs.odd != nil {
			why = fmt.Sprintf(": %v", recs.odd)
		}
		return nil, errors.New(history.Say("%s: none of %d records has a tag in column %q%s", t.File, n, t.Header[l.tag], why))
	}
	if f.Total == 0 {
		return nil, fmt.Errorf("%s: the table has a header but no fish", t.File)
	}
	if f.Total > tagindex.MaxTags/2 {
		return nil, fmt.Errorf("%s: the table has %d fish; at most %d can be handled", t.File, f.Total, tagindex.MaxTags/2)
	}
	if said := recs.released.Said; said != "" {
		f.Notes = append(f.Notes, fmt.Sprintf("%s: %s", t.Shown, said))
	}
	f.clockDoubts(recs.released, t.Shown)
	f.datesAlone(recs.released, t.Shown)

	released := recs.released.Ms
	b := builder{f: f, st: st, form: form, records: recs.records, texts: recs.texts}
	if b.pairs, err = secondTags(st, form, recs.seconds); err != nil {
		return nil, err
	}
	if err := b.sortOut(released, season); err != nil {
		return nil, err
	}
	b.countAside(recs.aside)
	keep := b.kept()
	if len(keep) == 0 {
		return nil, errors.New(history.Say("%s: no fish is left of %d: all are left out, as dead before release, sharing a tag, or released after as_of or last_day", t.File, f.Total))
	}
	h := &history.Histories{River: *l.river, CohortColumn: l.cohortName}
	h.Entry = make([]uint8, len(keep))
	h.Released = make([]int64, len(keep))
	h.Seen = make([]uint64, len(keep))
	h.End = make([]history.End, len(keep))
	for i, k := range keep {
		h.Entry[i], h.Released[i] = recs.records[k].entry, released[k]
	}
	var wg sync.WaitGroup
	wg.Go(func() { h.Tag = b.packTags(keep) })
	cohortNames, level := recs.cohorts.Finish()
	h.Cohorts, h.Cohort = pruneLevels(cohortNames, pick(level, keep))
	for _, c := range recs.columns {
		col := c.Finish()
		if col.Level != nil {
			col.Levels, col.Level = pruneLevels(col.Levels, pick(col.Level, keep))
		} else {
			col.Value = pick(col.Value, keep)
		}
		h.Columns = append(h.Columns, col)
	}
	f.Histories = h
	f.Flags = make([]history.Flag, len(keep))

	err = b.index(keep, released, recs.removed.DayEnd, recs.shed.DayEnd, season)
	wg.Wait()
	return f, err
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

// datesAlone says what is assumed of releases of which only the date is known.
func (f *Table) datesAlone(released *table.Times, name string) {
	n := released.DateOnly
	if n == 0 {
		return
	}
	if at := released.AtDay; at != nil {
		f.Notes = append(f.Notes, history.Say("%s: %d releases have a date alone and are taken to be at %s, as released_at says", name, n, time.Time{}.Add(*at).Format("15:04")))
		return
	}
	f.Findings = append(f.Findings, history.Finding{
		ID: "release_date_alone", Count: int64(n), Example: fmt.Sprintf("%s:%d", name, released.FirstDate),
		Message: history.Say("%d releases have a date without a time of day; the midnight that begins it is assumed", n),
		Advice:  "travel times from the release are too long by up to a day: say released_at = \"20:00\" under [fish], or join the column of the time",
	})
}

// clockDoubts reports release times that fall into a clock change.
func (f *Table) clockDoubts(released *table.Times, name string) {
	n := released.Never + released.Twice
	if n == 0 {
		return
	}
	f.Findings = append(f.Findings, history.Finding{
		ID: "doubtful_release_time", Count: int64(n), Example: fmt.Sprintf("%s:%d", name, released.FirstDoubt),
		Message: history.Say("%d release times fall into a clock change of %s: %d never existed, %d existed twice", n, released.Zone, released.Never, released.Twice),
		Advice:  "write the times with their offset, as 2025-10-26 01:30+01:00; until then one that existed twice is the first, one that never existed is read with the offset before the change",
		Impact:  float64(n) / float64(f.Total),
	})
}
