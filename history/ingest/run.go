// Package ingest turns a study's tables into detection histories. Sightings
// are streamed through all cores: memory grows with the fish, not with the
// records, and what comes out does not depend on the order of the records,
// the cutting of the files, or the number of cores.
package ingest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
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
	// Progress is told, from time to time and from one goroutine, how much of
	// the array files is read; nil means nobody is.
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
		return ready(st, st.Histories, "[histories]", readHistories)
	case st.NextSeen != nil:
		return ready(st, st.NextSeen, "[next_seen]", readNextSeen)
	case st.Fish == nil || st.Sightings == nil:
		return nil, errors.New("the study has no data: it needs [fish] and [sightings], or [histories], or [next_seen]")
	}
	r, err := prepare(st, opt)
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
	notes  []string

	layouts []*layout
	sums    []string
	blocks  []blockStart
	cells   *cells
	total   *worker
	// also is told of every record, by all workers at once.
	also func(rec *record, at int64)
}

// blockStart is where a block was, to find it again.
type blockStart struct {
	file int
	line int
}

func prepare(st *study.Study, opt Options) (*run, error) {
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
	fish, err := readFish(st, season, r.off, tags)
	if err != nil {
		return nil, err
	}
	if r.files, r.passed, err = expand(st); err != nil {
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
	if !st.LastDay.IsZero() {
		y, m, d := st.LastDay.Date()
		s.LastDayEnd = time.Date(y, m, d+1, 0, 0, 0, 0, st.LastDay.Location()).UnixMilli()
	}
	return s
}

func (r *run) workers() int {
	if r.opt.Workers > 0 {
		return r.opt.Workers
	}
	return runtime.GOMAXPROCS(0)
}

// readAll streams every file through the workers and joins what they counted.
func (r *run) readAll(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	n := r.workers()
	var (
		wg      sync.WaitGroup
		records atomic.Int64
		work    = make(chan *block, n)
		free    = make(chan []byte, 2*n+2)
		workers = make([]*worker, n)
	)
	for i := range workers {
		w := newWorker(r.judge, r.cells)
		w.also = r.also
		workers[i] = w
		wg.Go(func() {
			for b := range work {
				before := w.records
				if ctx.Err() == nil {
					w.block(b)
				}
				records.Add(w.records - before)
				if b.data != nil && cap(b.data) <= 2*blockSize {
					select {
					case free <- b.data:
					default:
					}
				}
			}
		})
	}
	err := r.feed(ctx, work, free, &records)
	close(work)
	wg.Wait()
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return err
	}
	r.total = workers[0]
	for _, w := range workers[1:] {
		r.total.join(w)
	}
	return r.checkOrders()
}

// feed reads the files one after the other and gives their blocks to work.
func (r *run) feed(ctx context.Context, work chan<- *block, free <-chan []byte, records *atomic.Int64) error {
	var done, total int64
	for _, f := range r.files {
		total += f.size
	}
	for i := range r.files {
		f := &r.files[i]
		if strings.HasSuffix(strings.ToLower(f.path), ".xlsx") {
			if err := r.feedSheet(ctx, i, work); err != nil {
				return err
			}
		} else if err := r.feedText(ctx, i, work, free, func(taken int64) {
			if r.opt.Progress != nil {
				r.opt.Progress(done+taken, total, records.Load())
			}
		}); err != nil {
			return err
		}
		done += f.size
		if r.opt.Progress != nil {
			r.opt.Progress(done, total, records.Load())
		}
	}
	return nil
}

func (r *run) feedText(ctx context.Context, file int, work chan<- *block, free <-chan []byte, progress func(int64)) error {
	f := &r.files[file]
	s, err := openSource(f.path, true)
	if err != nil {
		return err
	}
	defer s.shut()
	b := newBlocks(s)
	empty := true
	for {
		var buf []byte
		select {
		case buf = <-free:
		default:
		}
		data, line, tooLong, err := b.next(ctx, buf)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if r.layouts[file] == nil {
			if tooLong {
				return fmt.Errorf("%s: the first line is longer than 1 MiB; it must name the columns", f.name)
			}
			l, rest, lines, err := r.settle(ctx, file, data, line)
			if err != nil {
				return fmt.Errorf("%s: %w", f.name, err)
			}
			if l == nil {
				continue // blank lines only
			}
			data, line = rest, line+lines
			r.layouts[file] = l
		}
		empty = empty && len(data) == 0 && !tooLong
		blk := &block{data: data, line: line, file: file, number: len(r.blocks), tooLong: tooLong, layout: r.layouts[file]}
		r.blocks = append(r.blocks, blockStart{file, line})
		select {
		case work <- blk:
		case <-ctx.Done():
			return ctx.Err()
		}
		progress(s.taken)
	}
	if r.layouts[file] == nil {
		return fmt.Errorf("%s: the file is empty; its first line must name the columns", f.name)
	}
	if empty {
		r.notes = append(r.notes, f.name+": a header, but no record")
	}
	if err := s.finish(); err != nil {
		return err
	}
	r.sums[file] = s.sha256()
	return nil
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

// sheetDelimiter parts the fields of a workbook's rows on their way to the
// workers; it stands in no cell.
const sheetDelimiter = 0x1F

// sheetTime is the time of a workbook's row.
func sheetTime(t *read.Table, c columns) string {
	if c.date < 0 {
		return t.Field(c.time)
	}
	return strings.TrimSpace(t.Field(c.date)) + " " + strings.TrimSpace(t.Field(c.time))
}

// feedSheet reads a workbook's first sheet and gives its rows to work as lines.
func (r *run) feedSheet(ctx context.Context, file int, work chan<- *block) error {
	f := &r.files[file]
	t, err := read.Open(f.path)
	if err != nil {
		return err
	}
	defer t.Close()
	l := &layout{delim: sheetDelimiter, fields: len(t.Header)}
	if l.columns, err = findColumns(t.Header, r.st.Sightings); err != nil {
		return fmt.Errorf("%s: %w", f.name, err)
	}
	l.need = l.columns.need()
	var v clock.Survey
	var held []*block
	b := &block{}
	flush := func() error {
		if len(b.data) == 0 {
			return nil
		}
		b.file, b.number, b.layout = file, len(r.blocks), l
		r.blocks = append(r.blocks, blockStart{file, b.line})
		held = append(held, b)
		b = &block{}
		return ctx.Err()
	}
	last := 0
	for t.Next() {
		// A block's lines count one by one: rows left out in between, and
		// long blocks, start a new one.
		if len(b.data) > blockSize || len(b.data) > 0 && t.Line() != last+1 {
			if err := flush(); err != nil {
				return err
			}
		}
		if len(b.data) == 0 {
			b.line = t.Line()
		}
		last = t.Line()
		v.Add([]byte(sheetTime(t, l.columns)), last)
		for i := range t.Header {
			if i > 0 {
				b.data = append(b.data, sheetDelimiter)
			}
			b.data = append(b.data, cleanCell(t.Field(i))...)
		}
		b.data = append(b.data, '\n')
	}
	if err := t.Err(); err != nil {
		return err
	}
	if err := flush(); err != nil {
		return err
	}
	if err := r.settleTime(l, &v, file); err != nil {
		return fmt.Errorf("%s: %w", f.name, err)
	}
	r.layouts[file] = l
	r.sums[file] = t.SHA256()
	for _, b := range held {
		select {
		case work <- b:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// cleanCell keeps a cell from looking like several, or like a quoted one.
func cleanCell(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case '\n', '\r', sheetDelimiter:
			return ' '
		case '"':
			return '\''
		}
		return r
	}, s)
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
