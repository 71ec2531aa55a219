// Package sighting takes raw records of tags to passages: a fish's merged
// sightings at each row of antennas. Records are streamed through all cores:
// memory grows with the fish, not with the records, and what comes out does not
// depend on the order of the records, the cutting of the files, or the number of
// cores. The tricks that make it fast stay behind [Read], [Duplicates] and
// [Result].
//
// Begin with [Read]; ExampleRead shows it. Moments are Unix milliseconds.
package sighting

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/study"
)

// Result is what a study's sightings came to. The passages that count stand in
// the histories of the tagging table.
type Result struct {
	// Accounting is where every record ended.
	Accounting history.Accounting
	// Inputs are the tagging table and the files read.
	Inputs []history.Input
	// Notes say what was settled without being asked.
	Notes []string
	// Findings are what the files themselves gave to notice.
	Findings []history.Finding
	// Places are the antenna rows of the study, and Activity is what was
	// recorded at each, of whatever tag.
	Places   []Place
	Activity []Activity
	// Zones are the clocks of the sites, the study's own first.
	Zones []*clock.Zone
	// NeverExisted and ExistedTwice are the local times that a clock change
	// makes doubtful.
	NeverExisted, ExistedTwice Count
	// UnknownSites and UnknownAntennas count the names that are not in the
	// study; nil where there were too many. KnownSites and KnownAntennas are
	// those that are.
	UnknownSites, UnknownAntennas map[string]int64
	KnownSites, KnownAntennas     []string
	// Parked is how many tags stayed at an antenna; the first of them is that
	// of a fish of the histories, at a row.
	Parked                int64
	ParkedFish, ParkedRow int
	// TurnedBack are the fish that came to a site only after one farther down.
	TurnedBack []TurnedBack

	run *run
}

// Count is a number of records and the first of them, as file:line.
type Count struct {
	Records int64  // how many there are
	First   string // where the first stands, FILE:LINE
}

// Read reads the sightings of a study and writes what counts into the histories
// of its tagging table.
func Read(ctx context.Context, st *study.Study, fish *fishtable.Table, opt Options) (*Result, error) {
	r, err := prepare(st, fish, opt)
	if err != nil {
		return nil, err
	}
	if err := r.readAll(ctx); err != nil {
		return nil, err
	}
	r.findTestTags()
	passages, err := r.judgePassages(ctx)
	if err != nil {
		return nil, err
	}
	examples, err := r.passageExamples(ctx, passages.aside)
	if err != nil {
		return nil, err
	}
	w, places := r.total, r.judge.places
	res := &Result{
		Accounting: r.accounting(passages, examples), Inputs: r.inputs(), Notes: r.notes, Findings: slices.Concat(r.near, r.unsummedFinding(), r.midnightFinding(), r.twelveFinding()),
		Places: places.list, Activity: w.activity, Zones: places.zones,
		NeverExisted: Count{w.never.n, r.at(w.never)}, ExistedTwice: Count{w.twice.n, r.at(w.twice)},
		UnknownSites: w.sites.counts(), UnknownAntennas: w.antennas.counts(),
		KnownSites: places.siteNames(), KnownAntennas: places.antennaNames(),
		Parked: passages.parked.n, TurnedBack: passages.turned, run: r,
	}
	if cell := int(passages.parked.first); res.Parked > 0 {
		res.ParkedFish, res.ParkedRow = cell/r.judge.rows, cell%r.judge.rows
	}
	if len(r.passed) > 0 {
		res.Notes = append(res.Notes, history.Say("%d files in the folders are no tables and were passed over, the first is %s", len(r.passed), r.passed[0]))
	}
	if len(r.empty) > 0 {
		res.Notes = append(res.Notes, "no table in "+strings.Join(r.empty, ", "))
	}
	return res, nil
}

// readAll has workers take the files apart and joins what they counted.
func (r *run) readAll(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var wg sync.WaitGroup
	feed := newFeed(r)
	defer feed.shut()
	workers := make([]*worker, r.opt.Workers)
	for i := range workers {
		w := newWorker(r.judge, r.cells)
		w.observe = r.observe
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

// errUnread: a result that [Read] did not give has no files to look into.
var errUnread = errors.New("there are no sightings to look into again; Read reads a study's")

// Check refuses a result that [Read] did not give.
func (res *Result) Check() error {
	if res == nil || res.run == nil {
		return errUnread
	}
	return nil
}
