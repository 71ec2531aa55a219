package ingest

import (
	"bytes"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
)

// cases is one worker's memory: it reads and judges records without
// allocating.
type cases struct {
	*judge
	split   splitter
	marks   []uint32
	cursors []clock.Cursor
	at      []placeNow // by place
	met     met
	join    []byte // a date and time that stood apart

	// batch are the records being judged, n of them, and text is what their
	// fields are parts of: see eachBatch.
	batch [batchSize]record
	n     int
	text  []byte
	// ahead are the slots of the tags that are to be looked up.
	ahead   []int
	touched uint64
}

// batchSize is how many records are judged together.
const batchSize = 64

// record is a record of a sightings file that was judged.
type record struct {
	ms     int64
	tagKey uint64 // 0 where the tag cannot be read
	line   int
	// Where tag, site, antenna, time and date are as written, until the batch
	// is done: see [cases.field].
	parts
	fish  int32 // its number in the fish table; -1 where the tag is none
	place int32 // index into places.list; negative where unknown
	// met is where its tag is kept among those met lately, since is when it
	// came there; met is -1 where it is not.
	met   int32
	since uint32
	rule  rule.ID
	how   clock.How
	fault clock.Fault
}

// parts are the fields of a record that are needed; empty where its file has
// none such, or it is unreadable.
type parts struct{ tag, site, antenna, time, date span }

func (j *judge) newCases() *cases {
	c := &cases{judge: j}
	for i := range j.places.list {
		c.at = append(c.at, placeNow{site: j.places.list[i].site, row: j.places.list[i].row})
	}
	for _, z := range j.places.zones {
		c.cursors = append(c.cursors, z.Cursor())
	}
	return c
}

// field is a field of one of the batch's records; empty where its file has no
// such column.
func (c *cases) field(s span) []byte { return c.text[s.from:s.to] }

// eachBatch calls f for every few records of a block. All go through one step
// before any goes on to the next: while one waits for the memory the others
// need not.
func (c *cases) eachBatch(b *block, f func(recs []record)) {
	c.met.use(b.layout)
	c.n, c.text = 0, nil
	end := func() {
		recs := c.batch[:c.n]
		c.readTags(recs, b.layout)
		c.readPlaces(recs, b.layout)
		c.readTimes(recs, b.layout)
		c.decide(recs)
		f(recs)
		c.n = 0
	}
	switch {
	case b.tooLong:
		c.next(b.line).parts = parts{}
	case bytes.IndexByte(b.data, '"') < 0 && bytes.IndexByte(b.data, 0) < 0:
		c.plainLines(b, end)
	default:
		c.anyLines(b, end)
	}
	if c.n > 0 {
		end()
	}
}

// next gives the batch's next record, as unreadable as it is yet.
func (c *cases) next(line int) *record {
	r := &c.batch[c.n]
	c.n++
	r.line, r.tagKey, r.ms = line, 0, 0
	r.fish, r.place, r.met = -1, unknownSite, -1
	r.rule, r.how, r.fault = rule.Unreadable, clock.Once, clock.OK
	return r
}

// plainLines takes the lines of a block without quotes and NULs apart, and calls
// full for each full batch.
func (c *cases) plainLines(b *block, full func()) {
	data, l := b.data, b.layout
	if n := len(data); n > 0 && data[n-1] != '\n' {
		data = append(data, '\n')
	}
	c.text = data
	c.marks = mark(append(c.marks[:0], beforeAll), data, l.delim)
	line := b.line
	for marks := c.marks; len(marks) > 1; line++ {
		n := 1
		for data[marks[n]] != '\n' {
			n++
		}
		start, end := int(marks[0]+1), int(marks[n])
		if end > start && data[end-1] == '\r' {
			end--
		}
		if start < end && (data[start] > ' ' || !isBlank(data[start:end])) {
			r := c.next(line)
			if end-start <= maxLine && l.fits(n, data[start:end]) {
				r.take(marks[:n+1], end, &l.columns)
			} else {
				r.parts = parts{}
			}
			if c.n == batchSize {
				full()
			}
		}
		marks = marks[n:]
	}
}

// anyLines is plainLines for any block. What its lines say is put together
// anew, without the quotes.
func (c *cases) anyLines(b *block, full func()) {
	data, l := b.data, b.layout
	c.split.delim, c.split.text = l.delim, c.split.text[:0]
	for n := b.line; len(data) > 0; n++ {
		var line []byte
		line, data = cutLine(data)
		if isBlank(line) {
			continue
		}
		r := c.next(n)
		r.parts = parts{}
		if len(line) <= maxLine && bytes.IndexByte(line, 0) < 0 {
			if f, ok := c.split.add(line); ok && l.fits(f.count(), line) {
				r.take(f.marks, len(f.text), &l.columns)
			}
		}
		if c.text = c.split.text; c.n == batchSize {
			full()
			c.split.text = c.split.text[:0]
		}
	}
}

// take notes where the fields of a line stand that ends at end.
func (r *record) take(marks []uint32, end int, at *columns) {
	r.rule = rule.None
	r.tag, r.time = between(marks, at.tag, end), between(marks, at.time, end)
	r.site, r.antenna, r.date = between(marks, at.site, end), between(marks, at.antenna, end), between(marks, at.date, end)
}

// between is field i of a line; empty for -1.
func between(marks []uint32, i, end int) span {
	if i < 0 {
		return span{}
	}
	return span{int32(marks[i] + 1), int32(min(int(marks[i+1]), end))}
}

// fits tells whether a line of n fields has those of the header, and behind them
// nothing but the empty ones that spreadsheets write.
func (l *layout) fits(n int, line []byte) bool {
	return n == l.fields || n > l.fields && l.emptyTail(line)
}

// emptyTail is for a line with more fields than the header; delimiters in quotes
// count too, so that such a line may be refused, but never taken wrongly.
func (l *layout) emptyTail(line []byte) bool {
	for i, n := 0, 0; i < len(line); i++ {
		if line[i] == l.delim {
			n++
		} else if n >= l.fields && line[i] != ' ' {
			return false
		}
	}
	return true
}

// readTags reads the tags of records: the rule BadTag. What is to be looked up
// of them is fetched from memory.
func (c *cases) readTags(recs []record, l *layout) {
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		tag := c.field(r.tag)
		if c.met.tag(r, tag) {
			continue
		}
		key, ok := c.tags.key(tag, l.reversed)
		if !ok {
			r.rule = rule.BadTag
			continue
		}
		r.tagKey = key
		c.met.keepTag(r, tag)
		c.ahead = append(c.ahead, c.fish.index.place(key))
	}
	touched := uint64(0)
	for _, i := range c.ahead {
		touched += c.fish.index.slots[i].bits
	}
	c.touched += touched
	c.ahead = c.ahead[:0]
}

// readPlaces reads the sites and antennas of records.
func (c *cases) readPlaces(recs []record, l *layout) {
	hasSite, hasAntenna := l.columns.site >= 0, l.columns.antenna >= 0
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		site, antenna := c.field(r.site), c.field(r.antenna)
		p := c.met.place(site, antenna)
		if p != nil && p.known {
			r.place = p.place
			continue
		}
		r.place = int32(c.places.find(string(trimmed(site)), string(trimmed(antenna)), hasSite, hasAntenna))
		if p != nil {
			p.place, p.known = r.place, true
		}
	}
}

// readTimes reads the times of records, by the clocks of their places: the rule
// BadTime.
func (c *cases) readTimes(recs []record, l *layout) {
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		written := c.field(r.time)
		if l.columns.date >= 0 {
			written = c.time(r, l)
		}
		if r.place < 0 {
			r.ms, r.how, r.fault = c.cursors[0].Read(l.time, written)
		} else {
			p := &c.places.list[r.place]
			r.ms, r.how, r.fault = c.cursors[p.zone].Read(l.time, written)
			if len(p.fixes) > 0 {
				r.ms = p.fixed(r.ms)
			}
		}
		if r.fault != clock.OK {
			r.rule = rule.BadTime
		}
	}
}

// time is a record's time as written, with its date where that stands apart;
// valid until the next call.
func (c *cases) time(r *record, l *layout) []byte {
	if l.columns.date < 0 {
		return c.field(r.time)
	}
	c.join = joinDate(c.join, c.field(r.date), c.field(r.time))
	return c.join
}
