package ingest

import (
	"bytes"
	"math"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
)

// judge knows all that is needed to say what becomes of a record. It is read
// by many workers at once.
type judge struct {
	tags   tagReader
	fish   *fishTable
	places *places
	season rule.Season
	off    rule.Off
	rows   int // numbered rows of the river

	offWorking bool
	// Set after all records were merged: tags that turned out to be test
	// tags, and passages that a passage rule sets aside, by fish*rows+row.
	tests    map[uint64]bool
	passages map[int]rule.ID
}

// cases is one worker's memory: it judges records one by one without
// allocating.
type cases struct {
	*judge
	split   splitter
	cursors []clock.Cursor
	// found remembers places by site and antenna as written, each in the slot
	// its first and last letters point to.
	found [64]foundPlace
	// dates remembers the days of the dates met last.
	dates clock.Dates
	// join holds the dates and times of the batch, where they stand apart.
	join []byte
	// batch are the records being judged: see eachBatch.
	batch   [batchSize]record
	n       int
	touched uint64
}

// batchSize is how many records are judged together.
const batchSize = 64

// record is a record of a sightings file that was judged.
type record struct {
	rule  rule.ID
	line  int
	fish  int32 // its number in the fish table; -1 where the tag is none
	place int   // index into places.list; negative where unknown
	ms    int64
	how   clock.How
	fault clock.Fault
	// tag, site and antenna as written, valid until the next record; tagKey
	// is 0 where the tag cannot be read.
	tag, site, antenna, time []byte
	tagKey                   uint64
}

func (j *judge) newCases() *cases {
	c := &cases{judge: j}
	for _, z := range j.places.zones {
		c.cursors = append(c.cursors, z.Cursor())
	}
	return c
}

// use makes the cases ready for a file.
func (c *cases) use(l *layout) {
	c.split.delim = l.delim
	if cap(c.split.spans) < l.need {
		c.split.spans = make([]span, l.need)
	}
	c.split.spans = c.split.spans[:l.need:l.need]
}

// line reads a line into r; quiet tells that the block holds no quote and no
// NUL. What r holds of the line is valid until the batch is done.
func (c *cases) line(r *record, line []byte, l *layout, quiet bool) {
	*r = record{rule: rule.Unreadable, line: r.line, fish: -1, place: unknownSite}
	if len(line) > maxLine || !quiet && bytes.IndexByte(line, 0) >= 0 {
		return
	}
	var n int
	text := line
	if !quiet && bytes.IndexByte(line, '"') >= 0 {
		var ok bool
		if text, n, ok = c.split.splitQuoted(line); !ok {
			return
		}
	} else {
		n = c.split.split(line)
	}
	if n != l.fields && !(n > l.fields && c.emptyTail(line, l)) {
		return
	}
	r.rule = rule.None
	s := c.split.spans[:l.need]
	r.tag, r.time = text[s[l.columns.tag].from:s[l.columns.tag].to], l.columns.when(text, s, &c.join)
	if i := l.columns.site; i >= 0 {
		r.site = text[s[i].from:s[i].to]
	}
	if i := l.columns.antenna; i >= 0 {
		r.antenna = text[s[i].from:s[i].to]
	}
	c.read(r, l)
}

// emptyTail tells whether a line without quotes has nothing but empty fields
// behind those of the header, as spreadsheets write.
func (c *cases) emptyTail(line []byte, l *layout) bool {
	for i, n := 0, 0; i < len(line); i++ {
		if line[i] == l.delim {
			n++
		} else if n >= l.fields && line[i] != ' ' {
			return false
		}
	}
	return true
}

// read reads a record's fields: the rules from BadTag to BadTime.
func (c *cases) read(r *record, l *layout) {
	key, ok := c.tags.key(r.tag, l.reversed)
	if !ok {
		r.rule = rule.BadTag
		return
	}
	r.tagKey = key
	r.place = c.placeOf(r.site, r.antenna, l)
	var p *place
	zone := 0
	if r.place >= 0 {
		p = &c.places.list[r.place]
		zone = p.zone
	}
	v, fault := c.dates.Parse(l.time, r.time)
	if fault != clock.OK {
		r.rule, r.fault = rule.BadTime, fault
		return
	}
	r.ms = v.Ms
	if !v.Absolute {
		r.ms, r.how = c.cursors[zone].Instant(v.Ms)
	}
	if p != nil && len(p.fixes) > 0 {
		recorded := r.ms
		for i := range p.fixes {
			if f := &p.fixes[i]; recorded >= f.From && recorded < f.To {
				r.ms += f.add
			}
		}
	}
}

// decide judges a record that was read: the rules from TestTag on.
func (c *cases) decide(r *record) {
	k := c.fish.index.find(r.tagKey, r.tag)
	if k == nil {
		r.rule = rule.UnknownTag
		if c.tests != nil && c.tests[r.tagKey] {
			r.rule = rule.TestTag
		}
		return
	}
	r.fish = k.fish
	if k.rule != rule.None {
		r.rule = k.rule
		return
	}
	if r.place < 0 {
		r.rule = rule.UnknownSite
		if r.place == unknownAntenna {
			r.rule = rule.UnknownAntenna
		}
		return
	}
	p := &c.places.list[r.place]
	windows := p.windows
	if c.offWorking {
		windows = nil
	}
	if !k.special {
		f := rule.Fish{Released: k.released, Entry: int(k.entry), RemovedAt: math.MaxInt64, RemovedSite: -1, ShedAt: math.MaxInt64}
		r.rule = rule.Record(r.ms, p.site, &f, &c.season, windows)
	} else {
		r.rule = rule.Record(r.ms, p.site, c.fish.special[k.fish], &c.season, windows)
	}
	if r.rule == rule.None && c.passages != nil {
		r.rule = c.passages[int(k.fish)*c.rows+p.row]
	}
}

// foundPlace is a place that was looked up.
type foundPlace struct {
	site, antenna string
	// columns tells which of the two columns the file has.
	columns uint8
	place   int32
}

func (c *cases) placeOf(site, antenna []byte, l *layout) int {
	columns, at := uint8(1), uint8(0)
	if l.columns.site >= 0 {
		columns |= 2
	}
	if l.columns.antenna >= 0 {
		columns |= 4
	}
	if n := len(site); n > 0 {
		at += site[0] + site[n-1]*3 + uint8(n)*5
	}
	if n := len(antenna); n > 0 {
		at += antenna[0]*7 + antenna[n-1]*11 + uint8(n)*13
	}
	f := &c.found[at%64]
	if f.columns == columns && string(site) == f.site && string(antenna) == f.antenna {
		return int(f.place)
	}
	place := c.places.find(string(trimmed(site)), string(trimmed(antenna)), l.columns.site >= 0, l.columns.antenna >= 0)
	if len(site)+len(antenna) < 256 { // a longer one is nonsense, not to be kept
		*f = foundPlace{string(site), string(antenna), columns, int32(place)}
	}
	return place
}

// eachBatch calls f for every few records of a block. They are read first,
// then what the memory holds of their tags is fetched for all of them, and only
// then is each judged: one waits for the memory as long as sixty-four do.
func (c *cases) eachBatch(b *block, f func(recs []record)) {
	c.use(b.layout)
	c.n = 0
	if b.tooLong {
		c.batch[0] = record{rule: rule.Unreadable, line: b.line, fish: -1, place: unknownSite}
		f(c.batch[:1])
		return
	}
	quiet := bytes.IndexByte(b.data, '"') < 0 && bytes.IndexByte(b.data, 0) < 0
	data := b.data
	for n := b.line; len(data) > 0; n++ {
		end := bytes.IndexByte(data, '\n')
		var line []byte
		if end < 0 {
			line, data = data, nil
		} else {
			line, data = data[:end], data[end+1:]
		}
		if len(line) > 0 && line[len(line)-1] == '\r' {
			line = line[:len(line)-1]
		}
		if isBlank(line) {
			continue
		}
		if c.n == 0 {
			c.join = c.join[:0]
		}
		r := &c.batch[c.n]
		r.line = n
		c.line(r, line, b.layout, quiet)
		if c.n++; c.n == batchSize {
			f(c.judged())
		}
	}
	if c.n > 0 {
		f(c.judged())
	}
}

// judged judges the batch and starts a new one.
func (c *cases) judged() []record {
	recs := c.batch[:c.n]
	index := c.fish.index
	touched := uint64(0)
	for i := range recs {
		touched += index.slots[index.place(recs[i].tagKey)].key
	}
	c.touched = touched
	for i := range recs {
		if r := &recs[i]; r.rule == rule.None {
			c.decide(r)
		}
	}
	c.n = 0
	c.split.scratch = c.split.scratch[:0]
	return recs
}
