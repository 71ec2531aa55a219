package ingest

import (
	"context"
	"fmt"
	"sync"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
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

// readFish reads the tagging table. Its faults are returned together.
func readFish(ctx context.Context, st *study.Study, season rule.Season, off rule.Off, tags tagReader, workers int) (*fishTable, error) {
	t, l, recs, err := readTable(ctx, st, tags, workers)
	if err != nil {
		return nil, err
	}
	f := &fishTable{special: map[int32]*rule.Fish{}, total: len(recs.records)}
	relMs := &recs.released.moments
	if f.total == 0 {
		return nil, fmt.Errorf("%s: the table has a header but no fish", t.File)
	}
	f.input = t.Input(st.Fish.Written)
	f.notes = t.Notes(st.Fish.Written)
	f.findings = nearTable(t, &st.Fish.Table, optionalFish, st.Fish.Written)
	if said := recs.released.said; said != "" {
		f.notes = append(f.notes, fmt.Sprintf("%s: %s", st.Fish.Written, said))
	}
	f.clockDoubts(relMs, st.Fish.Written, recs.released.zone)

	b := fishBuilder{f: f, st: st, tags: tags, records: recs.records, texts: recs.texts, name: st.Fish.Written}
	if err := b.sortOut(relMs.ms, season); err != nil {
		return nil, err
	}
	keep := b.kept()
	if len(keep) == 0 {
		return nil, fmt.Errorf("%s: no fish is left of %d: all are left out, as dead before release, sharing a tag, or released after as_of or last_day", t.File, f.total)
	}
	h := &history.Histories{River: *l.river, CohortColumn: l.cohortName}
	h.Entry = make([]uint8, len(keep))
	h.Released = make([]int64, len(keep))
	h.Seen = make([]uint64, len(keep))
	h.End = make([]history.End, len(keep))
	for i, k := range keep {
		h.Entry[i], h.Released[i] = recs.records[k].entry, relMs.ms[k]
	}
	var wg sync.WaitGroup
	wg.Go(func() { h.Tag = b.packTags(keep) })
	cohortNames, level := recs.cohorts.finish()
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
	f.hist = h
	f.flags = make([]Flag, len(keep))

	err = b.index(keep, relMs.ms, recs.removed.dayEnd, recs.shed.dayEnd, season)
	wg.Wait()
	if err != nil {
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
