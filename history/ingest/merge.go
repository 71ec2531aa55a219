package ingest

import (
	"math"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
)

// pos is a place among the files: the file's number and the line.
func pos(file, line int) int64 { return int64(file)<<40 | int64(line) }

const noPos = math.MaxInt64

// tally counts something and remembers where it was first.
type tally struct {
	n     int64
	first int64
}

func newTally() tally { return tally{first: noPos} }

func (t *tally) add(at int64) {
	t.n++
	t.first = min(t.first, at)
}

func (t *tally) join(o tally) {
	t.n += o.n
	t.first = min(t.first, o.first)
}

// fishSet is a set of fish.
type fishSet []uint64

func (s *fishSet) add(i int32, n int) {
	if *s == nil {
		*s = make(fishSet, (n+63)/64)
	}
	(*s)[i>>6] |= 1 << (i & 63)
}

func (s *fishSet) join(o fishSet) {
	if *s == nil {
		*s = o
		return
	}
	for i := range o {
		(*s)[i] |= o[i]
	}
}

// worker merges the records of the blocks it is given. What all workers share
// is the cells; the rest is its own and joined at the end.
type worker struct {
	*cases
	cells gather

	records int64
	boxes   [rule.Count]tally
	fish    [rule.Count]fishSet
	unknown strangers
	// never and twice are the local times a clock change makes doubtful.
	never, twice tally
	// ambiguous and wrong are the dates whose order cannot be told, or is not
	// the file's.
	ambiguous, wrong map[int]tally // by file
	activity         []activity    // by place
	// sites and antennas count the names that are not in the study.
	sites, antennas names
	// also is told of every record, where it is not nil.
	also func(c *cases, r *record, at int64)
}

// names counts names.
type names map[string]*tally

// maxNames bounds how many names outside the study are counted one by one.
const maxNames = 1 << 10

// activity is when a place recorded anything, of whatever tag.
type activity struct {
	records     int64
	first, last int64
	// busy has for each page a bit for every hour with a record.
	busy map[int64]*[pageHours / 64]uint64
	page int64 // the page used last
	bits *[pageHours / 64]uint64
	// counted is the hour that was counted last.
	counted rule.Window
}

// Hours are counted in pages of 64 days, so that a wrong year costs a page and
// not the years between.
const pageHours = 64 * 24

func (a *activity) add(ms int64) {
	if a.records++; ms >= a.counted.From && ms < a.counted.To {
		a.first, a.last = min(a.first, ms), max(a.last, ms)
		return
	}
	a.addHour(ms)
}

// addHour is add for a record of another hour than the one before.
func (a *activity) addHour(ms int64) {
	if a.records == 1 {
		a.first, a.last = ms, ms
	}
	a.first, a.last = min(a.first, ms), max(a.last, ms)
	hour := floorDiv(ms, 3600_000)
	a.counted = rule.Window{From: hour * 3600_000, To: (hour + 1) * 3600_000}
	if page := floorDiv(hour, pageHours); a.bits == nil || page != a.page {
		a.page, a.bits = page, a.busy[page]
		if a.bits == nil {
			if a.busy == nil {
				a.busy = map[int64]*[pageHours / 64]uint64{}
			}
			a.bits = new([pageHours / 64]uint64)
			a.busy[page] = a.bits
		}
	}
	h := hour - a.page*pageHours
	a.bits[h>>6] |= 1 << (h & 63)
}

// isBusy tells whether there was a record in an hour since 1970.
func (a *activity) isBusy(hour int64) bool {
	page := floorDiv(hour, pageHours)
	bits := a.busy[page]
	h := hour - page*pageHours
	return bits != nil && bits[h>>6]&(1<<(h&63)) != 0
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func (a *activity) join(o *activity) {
	if o.records == 0 {
		return
	}
	if a.records == 0 {
		a.first, a.last = o.first, o.last
	}
	a.records += o.records
	a.first, a.last = min(a.first, o.first), max(a.last, o.last)
	if a.busy == nil {
		a.busy = map[int64]*[pageHours / 64]uint64{}
	}
	for page, bits := range o.busy {
		mine := a.busy[page]
		if mine == nil {
			a.busy[page] = bits
			continue
		}
		for i := range mine {
			mine[i] |= bits[i]
		}
	}
}

func newWorker(j *judge, cells *cells) *worker {
	w := &worker{
		cases: j.newCases(), cells: gather{cells: cells}, never: newTally(), twice: newTally(),
		ambiguous: map[int]tally{}, wrong: map[int]tally{}, sites: names{}, antennas: names{},
		activity: make([]activity, len(j.places.list)),
	}
	for i := range w.boxes {
		w.boxes[i] = newTally()
	}
	return w
}

func (w *worker) block(b *block) {
	w.eachBatch(b, func(recs []record) {
		w.records += int64(len(recs))
		for i := range recs {
			r := &recs[i]
			if r.rule == rule.None {
				w.activity[r.place].add(r.ms)
				w.cells.add(int(r.fish)*w.rows+w.at[r.place].row, r.ms, b.number)
			} else {
				w.setAside(r, pos(b.file, r.line), b.file)
			}
			if r.how != clock.Once || w.also != nil {
				w.notice(r, pos(b.file, r.line))
			}
		}
	})
}

// notice takes in what there is to a record besides its fish and its rule.
func (w *worker) notice(r *record, at int64) {
	switch r.how {
	case clock.Never:
		w.never.add(at)
	case clock.Twice:
		w.twice.add(at)
	}
	if w.also != nil {
		w.also(w.cases, r, at)
	}
}

// setAside takes in a record that a rule set aside.
func (w *worker) setAside(r *record, at int64, file int) {
	if r.rule > rule.BadTime && r.place >= 0 {
		w.activity[r.place].add(r.ms)
	}
	w.boxes[r.rule].add(at)
	switch r.rule {
	case rule.BadTime:
		var in map[int]tally
		switch r.fault {
		case clock.AmbiguousOrder:
			in = w.ambiguous
		case clock.WrongOrder:
			in = w.wrong
		default:
			return
		}
		t, ok := in[file]
		if !ok {
			t = newTally()
		}
		t.add(at)
		in[file] = t
	case rule.UnknownTag:
		w.unknown.at(r.tagKey).add(stranger{reads: 1, first: r.ms, last: r.ms, place: hashPlace(w.field(r.site), w.field(r.antenna)), pos: at})
	case rule.UnknownSite:
		w.sites.add(w.field(r.site), at)
	case rule.UnknownAntenna:
		w.antennas.add(w.field(r.antenna), at)
	}
	if r.fish >= 0 {
		w.fish[r.rule].add(r.fish, w.judge.fish.known)
	}
}

func (n names) add(name []byte, at int64) {
	name = trimmed(name)
	x := n[string(name)]
	if x == nil {
		if len(n) >= maxNames {
			return
		}
		x = &tally{first: noPos}
		n[string(name)] = x
	}
	x.add(at)
}

func (n names) join(o names) {
	for name, x := range o {
		if y := n[name]; y != nil {
			y.join(*x)
		} else {
			n[name] = x
		}
	}
}

// join takes in what another worker has counted.
func (w *worker) join(o *worker) {
	w.records += o.records
	for i := range w.boxes {
		w.boxes[i].join(o.boxes[i])
		if o.fish[i] != nil {
			w.fish[i].join(o.fish[i])
		}
	}
	w.never.join(o.never)
	w.twice.join(o.twice)
	for i := range o.unknown.slots {
		if s := &o.unknown.slots[i]; s.key != 0 {
			w.unknown.at(s.key).add(*s)
		}
	}
	joinTallies(w.ambiguous, o.ambiguous)
	joinTallies(w.wrong, o.wrong)
	for i := range w.activity {
		w.activity[i].join(&o.activity[i])
	}
	w.sites.join(o.sites)
	w.antennas.join(o.antennas)
}

func joinTallies(to, from map[int]tally) {
	for file, t := range from {
		if x, ok := to[file]; ok {
			t.join(x)
		}
		to[file] = t
	}
}
