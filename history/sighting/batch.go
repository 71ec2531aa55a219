package sighting

import (
	"bytes"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/table"
)

// reader is one worker's memory: it reads and judges records without
// allocating.
type reader struct {
	*judge
	split   dialect.Splitter
	marks   []uint32
	cursors []clock.Cursor
	at      []quickPlace // by place
	recent  recent
	layout  *layout // of the block being read
	joined  []byte  // a date and time that stood apart

	// batch are the records being judged, n of them, and text is what their
	// fields are parts of: see eachBatch.
	batch [batchSize]record
	n     int
	text  []byte
	// toFetch are the tags that are to be looked up.
	toFetch []uint64
	fetched uint64 // of [tagindex.Index.Fetch]
}

// batchSize is how many records are judged together.
const batchSize = 64

func (j *judge) newReader() *reader {
	c := &reader{judge: j}
	for i := range j.places.list {
		c.at = append(c.at, quickPlace{site: j.places.list[i].Site, row: j.places.list[i].Row})
	}
	for _, z := range j.places.zones {
		c.cursors = append(c.cursors, z.Cursor())
	}
	return c
}

// field is a field of one of the batch's records; empty where its file has no
// such column.
func (c *reader) field(s span) []byte { return c.text[s.from:s.to] }

// bare is a field as other tables have it: without blanks at its ends, and without
// the apostrophe of [table.Harmless].
func bare(field []byte) []byte {
	if field = bytes.TrimSpace(field); len(field) > 0 && field[0] == '\'' {
		return []byte(table.TakenBack(string(field)))
	}
	return field
}

// tag is the tag of a record. In a code no apostrophe counts.
func (c *reader) tag(r *record) []byte {
	if c.form.Text {
		return bare(c.field(r.tag))
	}
	return c.field(r.tag)
}

// readTags reads the tags of records: the rule BadTag. What is to be looked up
// of them is fetched from memory.
func (c *reader) readTags(recs []record, l *layout) {
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		tag := c.field(r.tag)
		if c.recent.tag(r, tag) {
			continue
		}
		key, ok := c.form.Key(c.tag(r), l.reversed)
		if !ok {
			r.rule = rule.BadTag
			continue
		}
		r.tagKey = key
		c.recent.remember(r, tag)
		c.toFetch = append(c.toFetch, key)
	}
	fetched := uint64(0)
	for _, key := range c.toFetch {
		fetched += c.fish.Index.Fetch(key)
	}
	c.fetched += fetched
	c.toFetch = c.toFetch[:0]
}

// readPlaces reads the sites and antennas of records.
func (c *reader) readPlaces(recs []record, l *layout) {
	hasSite, hasAntenna := l.columns.site >= 0 || l.site != nil, l.columns.antenna >= 0 || l.antenna != nil
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		site, antenna := c.siteOf(r), c.antennaOf(r)
		p := c.recent.place(site, antenna)
		if p != nil && p.known {
			r.place = p.place
			continue
		}
		r.place = int32(c.places.find(string(bare(site)), string(bare(antenna)), hasSite, hasAntenna))
		if p != nil {
			p.place, p.known = r.place, true
		}
	}
}

// readTimes reads the times of records, by the clocks of their places: the rule
// BadTime.
func (c *reader) readTimes(recs []record, l *layout) {
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		written := c.field(r.time)
		if l.columns.date >= 0 {
			written = c.time(r, l)
		}
		var p *Place
		zone := 0
		if r.place >= 0 {
			p = &c.places.list[r.place]
			zone = p.zone
		}
		if l.zone >= 0 {
			zone = l.zone
		}
		r.ms, r.how, r.fault = c.cursors[zone].Read(l.time, written)
		if p != nil && len(p.fixes)+len(l.fixes) > 0 {
			r.ms += correction(p.fixes, r.ms) + correction(l.fixes, r.ms)
		}
		if r.fault != clock.OK {
			r.rule = rule.BadTime
		}
	}
}

// siteOf is the site of a record: as written, or as its group of files says.
func (c *reader) siteOf(r *record) []byte {
	if c.layout.site != nil {
		return c.layout.site
	}
	return c.field(r.site)
}

// antennaOf is likewise its antenna.
func (c *reader) antennaOf(r *record) []byte {
	if c.layout.antenna != nil {
		return c.layout.antenna
	}
	return c.field(r.antenna)
}

// time is a record's time as written, with its date where that stands apart;
// valid until the next call.
func (c *reader) time(r *record, l *layout) []byte {
	if l.columns.date < 0 {
		return c.field(r.time)
	}
	c.joined = clock.AppendJoined(c.joined[:0], c.field(r.date), c.field(r.time), l.points)
	return c.joined
}
