package sighting

import (
	"encoding/binary"
	"math/bits"

	"example.org/unseen/history/tagindex"
)

// recent remembers what was lately found out about tags and places as they are
// written: a fish at an antenna is read again and again, and the records of a
// site repeat its name. It holds for one layout.
type recent struct {
	layout *layout
	tags   [1 << tagBits]recentTag
	places [1 << placeBits]recentPlace
	since  uint32
	other  tagindex.Meaning // of a tag that could not be kept
}

// How many tags and places are remembered, as powers of two.
const (
	tagBits   = 10
	placeBits = 8
)

// scatter spreads what is hashed: 2^64 over the golden ratio.
const scatter = 0x9E3779B97F4A7C15

// short is a field of up to sixteen bytes, in two words. Bytes behind its end are
// 0, and no field holds a NUL.
type short struct{ a, b uint64 }

// recentTag is a tag read lately; it is no longer than a line of the processor's
// cache.
type recentTag struct {
	written short
	since   uint32 // counts the tags that came
	key     uint64 // 0 where there is none
	// means is what the tag stands for, once it was looked up.
	means tagindex.Meaning
	is    standing
}

// standing is whether a tag stands for a fish.
type standing uint8

const (
	notLookedUp standing = iota
	isKnown
	isUnknown
)

// recentPlace is a site and antenna read lately.
type recentPlace struct {
	site, antenna short
	place         int32
	known         bool
}

// use makes ready for a layout.
func (m *recent) use(l *layout) {
	if m.layout != l {
		*m = recent{layout: l, since: m.since}
	}
}

// ends are, by its length, which bytes of two words are a field's own.
var ends = func() (m [17][2]uint64) {
	for n := range m {
		for i := range n {
			m[n][i/8] |= 0xFF << (i % 8 * 8)
		}
	}
	return m
}()

// shorten is a field of up to sixteen bytes; ok is false for a longer one, and
// for the last of a text, behind which nothing can be read.
func shorten(b []byte) (s short, ok bool) {
	n := len(b)
	if n > 16 || cap(b) < 16 {
		return s, false
	}
	b = b[:16]
	m := &ends[n]
	return short{binary.LittleEndian.Uint64(b) & m[0], binary.LittleEndian.Uint64(b[8:]) & m[1]}, true
}

// tag finds the key of a record's tag, if it was read lately; where it was not
// it may be kept, by remember.
func (m *recent) tag(r *record, tag []byte) bool {
	s, ok := shorten(tag)
	if !ok {
		return false
	}
	r.recent = int32((s.a*scatter ^ s.b) * scatter >> (64 - tagBits))
	t := &m.tags[r.recent]
	if t.written != s || t.key == 0 {
		return false
	}
	r.tagKey, r.since = t.key, t.since
	return true
}

// remember keeps the tag of a record for those to come.
func (m *recent) remember(r *record, tag []byte) {
	if r.recent < 0 {
		return
	}
	m.since++
	r.since = m.since
	t := &m.tags[r.recent]
	t.written, _ = shorten(tag)
	t.key, t.since, t.is = r.tagKey, m.since, notLookedUp
}

// place is where the place of a record is kept, perhaps not known yet; nil
// where it cannot be kept.
func (m *recent) place(site, antenna []byte) *recentPlace {
	s, ok1 := shorten(site)
	a, ok2 := shorten(antenna)
	if !ok1 || !ok2 {
		return nil
	}
	p := &m.places[(s.a^s.b*3^bits.RotateLeft64(a.a^a.b*5, 32))*scatter>>(64-placeBits)]
	if p.site != s || p.antenna != a {
		*p = recentPlace{site: s, antenna: a}
	}
	return p
}
