package sighting

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// Options say how sightings are read.
type Options struct {
	Form   tagindex.Form // of tags
	Season rule.Season   // the moments between which records count
	Off    rule.Off      // rules switched off
	// Workers is the number of goroutines that read records.
	Workers int
	// Progress is told from time to time, never twice at once, how much of the
	// files is read; nil means nobody is.
	Progress func(bytesDone, bytesTotal, records int64)
	// Temp is the folder for the temporary files of [Duplicates]; "" means that of
	// the system.
	Temp string
}

// run is one reading of a study's sightings.
type run struct {
	st     *study.Study
	opt    Options
	judge  *judge
	files  []table.File
	passed []string // files of folders that are no tables
	// empty are folders without a table, unsummed files of which damage
	// cannot be noticed; near what is nearly the name of a column.
	empty, unsummed []string
	// midnights are array files whose times are all at midnight, twelves those
	// whose clock seems to go to twelve only.
	midnights, twelves []string
	sources            []source // by group of files
	near               []history.Finding
	notes              []string

	layouts []*layout
	sums    []string
	blocks  []blockStart
	cells   *cells
	total   *worker
	// observe is told of every record, by all workers at once.
	observe func(c *reader, rec *record, at int64)
}

// blockStart is where a block was, to find it again.
type blockStart struct {
	file, line int
	place      int64 // of [table.Blocks.Place]
}

// manyFish is the number of fish from which on memory is worth a pause.
const manyFish = 100_000

func prepare(st *study.Study, fish *fishtable.Table, opt Options) (*run, error) {
	if err := cmp.Or(st.Check(), fish.Check()); err != nil {
		return nil, err
	}
	if river := st.River(); river.Rows() != fish.Histories.River.Rows() || !slices.Equal(river.SiteNames(), fish.Histories.River.SiteNames()) {
		return nil, errors.New("the tagging table is of a study with other sites")
	}
	r := &run{st: st, opt: opt}
	var err error
	if r.files, r.passed, r.empty, err = table.Files(st); err != nil {
		return nil, err
	}
	places := newPlaces(st)
	if r.sources, err = newSources(st, places); err != nil {
		return nil, err
	}
	for i := range r.files {
		group := st.Sightings[r.files[i].Group]
		r.files[i].Wants = func(header []string) bool { _, err := findColumns(header, group); return err == nil }
	}
	r.judge = &judge{
		form: opt.Form, fish: fish, places: places, season: opt.Season,
		rows: fish.Histories.River.Rows(), offWorking: opt.Off["outside_working"],
	}
	r.layouts = make([]*layout, len(r.files))
	r.sums = make([]string, len(r.files))
	if fish.Total >= manyFish {
		// What reading the table took is let go before the cells are laid.
		debug.FreeOSMemory()
	}
	r.cells = newCells(fish.Histories.Len() * r.judge.rows)
	return r, nil
}

// settleTimes settles how a file writes its times, from its first block and as
// far on as it takes until the order of day and month has shown itself.
func (r *run) settleTimes(ctx context.Context, l *layout, file int, first table.Block) error {
	f := r.files[file]
	var v clock.Survey
	l.survey(&v, first)
	if v.Wants(l.order) && first.Line > 0 {
		if err := l.readOn(ctx, f, &v, first.Line); err != nil {
			return err
		}
	}
	err := r.judge.places.check(l)
	var said string
	if err == nil {
		l.time, said, err = v.Settle(l.order)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.Name, err)
	}
	if said != "" {
		r.notes = append(r.notes, f.Name+": "+said)
	}
	if l.midnightsOnly(first) {
		r.midnights = append(r.midnights, f.Name)
	}
	if l.twelveOnly(first) {
		r.twelves = append(r.twelves, f.Name)
	}
	if name := dialect.DelimiterNames[l.delim]; name != "" {
		r.notes = append(r.notes, f.Name+": fields parted by "+name)
	}
	l.reversed = reversedFile(r.st.Sightings[f.Group], f.Path)
	return nil
}

// checkOrders refuses dates whose order the file's values leave open, or
// contradict.
func (r *run) checkOrders() error {
	doubt, wrong := r.total.ambiguousOrder, r.total.wrongOrder
	switch {
	case doubt.n > 0 && (wrong.n == 0 || fileOf(doubt.first) <= fileOf(wrong.first)):
		return fmt.Errorf("%s: a date that can be day first or month first; set date_order = \"day first\" or \"month first\"", r.at(doubt))
	case wrong.n > 0:
		return fmt.Errorf("%s: the date is not %s, as other dates of the file are; set date_order, and the others will be set aside", r.at(wrong), r.layouts[fileOf(wrong.first)].time.Order)
	}
	return nil
}

// at names the place of the first of what was counted; "" where there is none.
func (r *run) at(t tally) string {
	if t.n == 0 {
		return ""
	}
	return fmt.Sprintf("%s:%d", r.files[fileOf(t.first)].Name, t.first&(1<<40-1))
}

func (r *run) inputs() []history.Input {
	in := []history.Input{r.judge.fish.Input}
	seen := map[string]bool{}
	for i := range r.files {
		if name := r.files[i].Input(); !seen[name] { // not a workbook of several sheets
			seen[name] = true
			in = append(in, history.Input{File: name, SHA256: r.sums[i]})
		}
	}
	return in
}
