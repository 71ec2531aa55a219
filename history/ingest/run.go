// Package ingest turns a study's tables into detection histories. Sightings
// are streamed through all cores: memory grows with the fish, not with the
// records, and what comes out does not depend on the order of the records,
// the cutting of the files, or the number of cores.
package ingest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
)

// Options are the choices of a reading; the zero value is the default.
type Options struct {
	// AsOf takes the place of the study's as_of; zero means the study's.
	AsOf time.Time
	// Workers is the number of goroutines that read records; 0 means
	// GOMAXPROCS.
	Workers int
	// Progress is told from time to time, never twice at once, how much of the
	// array files is read; nil means nobody is.
	Progress func(bytesDone, bytesTotal, records int64)
	// SetAside is given every record that is set aside, in the order of the
	// files, in a second reading of them; nil means there is none. An error
	// ends the reading.
	SetAside func(SetAside) error
}

// SetAside is a record that a rule set aside.
type SetAside struct {
	File string
	Line int
	// Rule is the rule's ID and Name its name.
	Rule, Name string
	// Tag, Site, Antenna and Time are as written; "" for an unreadable record.
	Tag, Site, Antenna, Time string
	// Reason says more where there is more to say, as why a time is none.
	Reason string
}

// Run reads a study's tables, whichever of the three kinds it has. The error
// is for the user; where several things are wrong it holds them all.
func Run(ctx context.Context, st *study.Study, opt Options) (*Result, error) {
	switch {
	case st.Histories != nil:
		return ready(ctx, st, st.Histories, "[histories]", readHistories)
	case st.NextSeen != nil:
		return ready(ctx, st, st.NextSeen, "[next_seen]", readNextSeen)
	case st.Fish == nil || st.Sightings == nil:
		return nil, errors.New("the study has no data: it needs [fish] and [sightings], or [histories], or [next_seen]")
	}
	r, err := prepare(ctx, st, opt)
	if err != nil {
		return nil, err
	}
	if err := r.readAll(ctx); err != nil {
		return nil, err
	}
	return r.finish(ctx)
}

// run is one reading of a study's sightings.
type run struct {
	st     *study.Study
	opt    Options
	off    rule.Off
	judge  *judge
	order  clock.Order
	files  []arrayFile
	passed []string
	// empty are folders without a table, unsummed files of which damage
	// cannot be noticed; near what is nearly the name of a column.
	empty, unsummed []string
	near            []finding
	notes           []string

	layouts []*layout
	sums    []string
	blocks  []blockStart
	cells   *cells
	total   *worker
	// also is told of every record, by all workers at once.
	also func(c *cases, rec *record, at int64)
}

// blockStart is where a block was, to find it again.
type blockStart struct {
	file, line int
	at         int64 // byte of the text; 0 in a workbook
}

func prepare(ctx context.Context, st *study.Study, opt Options) (*run, error) {
	r := &run{st: st, opt: opt}
	var err error
	if r.off, err = rule.NewOff(st.Rules.Off); err != nil {
		return nil, fmt.Errorf("%v: %w", st.Rules.OffPos, err)
	}
	if r.order, err = clock.ParseOrder(st.DateOrder); err != nil {
		return nil, err
	}
	season := seasonOf(st, opt)
	tags := tagReader{text: st.TagForm == "text"}
	fish, err := readFish(ctx, st, season, r.off, tags, r.workers())
	if err != nil {
		return nil, err
	}
	if r.files, r.passed, r.empty, err = expand(st); err != nil {
		return nil, err
	}
	r.judge = &judge{
		tags: tags, fish: fish, places: newPlaces(st), season: season, off: r.off,
		rows: fish.hist.River.Rows(), offWorking: r.off["outside_working"],
	}
	r.layouts = make([]*layout, len(r.files))
	r.sums = make([]string, len(r.files))
	if fish.total >= manyFish {
		// What reading the table took is let go before the cells are laid.
		debug.FreeOSMemory()
	}
	r.cells = newCells(fish.hist.Len() * r.judge.rows)
	return r, nil
}

// manyFish is the number of fish from which on memory is worth a pause.
const manyFish = 100_000

func seasonOf(st *study.Study, opt Options) rule.Season {
	s := rule.Season{AsOf: math.MaxInt64, LastDayEnd: math.MaxInt64}
	asOf := st.AsOf
	if !opt.AsOf.IsZero() {
		asOf = opt.AsOf
	}
	if !asOf.IsZero() {
		s.AsOf = asOf.UnixMilli()
	}
	if end := st.LastDayEnd(); !end.IsZero() {
		s.LastDayEnd = end.UnixMilli()
	}
	return s
}

func (r *run) workers() int {
	if r.opt.Workers > 0 {
		return r.opt.Workers
	}
	return runtime.GOMAXPROCS(0)
}

// readAll has workers take the files apart and joins what they counted.
func (r *run) readAll(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var wg sync.WaitGroup
	feed := newFeed(r)
	defer feed.shut()
	workers := make([]*worker, r.workers())
	for i := range workers {
		w := newWorker(r.judge, r.cells)
		w.also = r.also
		workers[i] = w
		wg.Go(func() {
			var b block
			for before := int64(0); feed.next(ctx, &b, w.records-before); {
				before = w.records
				w.block(&b)
			}
			w.cells.finish()
		})
	}
	wg.Wait()
	if feed.err != nil {
		return feed.err
	}
	r.total = workers[0]
	for _, w := range workers[1:] {
		r.total.join(w)
	}
	return r.checkOrders()
}

// settle makes the layout of a file from its first block. rest is what follows
// the header, lines the lines up to and with it; l is nil where the block is
// blank.
func (r *run) settle(ctx context.Context, file int, data []byte, line int) (l *layout, rest []byte, lines int, err error) {
	head, rest, lines := header(data)
	if head == nil {
		return nil, nil, 0, nil
	}
	if i := strings.IndexByte(string(head), 0); i >= 0 {
		return nil, nil, 0, errors.New("the first line holds a NUL byte; it is not a table of text")
	}
	if strings.IndexByte(string(head), '\r') >= 0 {
		return nil, nil, 0, errors.New("lines end in a lone carriage return; save the file with ordinary line ends")
	}
	if l, err = newLayout(head, r.st.Sightings); err != nil {
		return nil, nil, 0, err
	}
	if names, err := splitHeader(head, l.delim); err == nil {
		r.nearColumns(names, file)
	}
	var v clock.Survey
	l.surveyTimes(&v, rest, line+lines)
	if !v.Settled() && r.order == clock.Unsettled {
		if err := l.settleTimes(ctx, r.files[file].path, &v); err != nil {
			return nil, nil, 0, err
		}
	}
	if err := r.settleTime(l, &v, file); err != nil {
		return nil, nil, 0, err
	}
	if name := delimiterNames[l.delim]; name != "" {
		r.notes = append(r.notes, fmt.Sprintf("%s: fields parted by %s", r.files[file].name, name))
	}
	return l, rest, lines, nil
}

func (r *run) settleTime(l *layout, v *clock.Survey, file int) error {
	if err := r.judge.places.check(l.columns); err != nil {
		return err
	}
	var said string
	var err error
	if l.time, said, err = v.Settle(r.order); err != nil {
		return err
	}
	if said != "" {
		r.notes = append(r.notes, fmt.Sprintf("%s: %s", r.files[file].name, said))
	}
	l.file = file
	l.reversed = reversedFile(r.st.Sightings, r.files[file].path)
	return nil
}

// checkOrders refuses dates whose order the file's values leave open, or
// contradict.
func (r *run) checkOrders() error {
	if r.order != clock.Unsettled {
		return nil
	}
	for i := range r.files {
		if t, ok := r.total.ambiguous[i]; ok {
			return fmt.Errorf("%s: a date that can be day first or month first; set date_order = \"day first\" or \"month first\"", r.at(t.first))
		}
		if t, ok := r.total.wrong[i]; ok {
			return fmt.Errorf("%s: the date is not %s, as other dates of the file are; set date_order, and the others will be set aside", r.at(t.first), r.layouts[i].time.Order)
		}
	}
	return nil
}

// at names a place among the files.
func (r *run) at(p int64) string {
	if p == noPos {
		return ""
	}
	return fmt.Sprintf("%s:%d", r.files[p>>40].name, p&(1<<40-1))
}

func (r *run) inputs() []history.Input {
	in := []history.Input{r.judge.fish.input}
	for i, f := range r.files {
		in = append(in, history.Input{File: f.name, SHA256: r.sums[i]})
	}
	return in
}
