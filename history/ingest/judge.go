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
	rec   record // the one being judged
}

// record is a record of a sightings file that was judged.
type record struct {
	rule  rule.ID
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

// line judges a line; quiet tells that the block holds no quote and no NUL.
// What it returns is valid until the next call.
func (c *cases) line(line []byte, l *layout, quiet bool) *record {
	r := &c.rec
	*r = record{rule: rule.Unreadable, fish: -1, place: unknownSite}
	if len(line) > maxLine || !quiet && bytes.IndexByte(line, 0) >= 0 {
		return r
	}
	var n int
	text := line
	if !quiet && bytes.IndexByte(line, '"') >= 0 {
		var ok bool
		if text, n, ok = c.split.splitQuoted(line); !ok {
			return r
		}
	} else {
		n = c.split.split(line)
	}
	if n != l.fields && !(n > l.fields && c.emptyTail(line, l)) {
		return r
	}
	s := c.split.spans[:l.need]
	field := func(i int) []byte { return text[s[i].from:s[i].to] }
	r.tag, r.time = field(l.columns.tag), field(l.columns.time)
	if l.columns.site >= 0 {
		r.site = field(l.columns.site)
	}
	if l.columns.antenna >= 0 {
		r.antenna = field(l.columns.antenna)
	}
	r.rule = rule.None
	c.fields(r, l)
	return r
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

// fields judges a record by its fields, the rules in their order.
func (c *cases) fields(r *record, l *layout) {
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
	k := c.fish.index.find(key, r.tag)
	if k == nil {
		r.rule = rule.UnknownTag
		if c.tests != nil && c.tests[key] {
			r.rule = rule.TestTag
		}
		return
	}
	r.fish = k.fish
	if k.rule != rule.None {
		r.rule = k.rule
		return
	}
	if p == nil {
		r.rule = rule.UnknownSite
		if r.place == unknownAntenna {
			r.rule = rule.UnknownAntenna
		}
		return
	}
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

// eachRecord calls f for every record of a block with its line number.
func (c *cases) eachRecord(b *block, f func(line int, r *record)) {
	c.use(b.layout)
	if b.tooLong {
		f(b.line, &record{rule: rule.Unreadable, fish: -1, place: unknownSite})
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
		f(n, c.line(line, b.layout, quiet))
	}
}
