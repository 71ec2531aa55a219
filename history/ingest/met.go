package ingest

import (
	"encoding/binary"
	"math/bits"
)

// met remembers what was lately found out about tags and places as they are
// written: a fish at an antenna is read again and again, and the records of a
// site repeat its name. It holds for one layout.
type met struct {
	layout *layout
	tags   [1 << tagsMet]tagMet
	places [1 << placesMet]placeMet
	since  uint32
	other  knownFish // one that could not be kept
}

// The powers of two of what is remembered.
const (
	tagsMet   = 10
	placesMet = 8
)

// short is a field of up to sixteen bytes, in two words. Bytes behind its end are
// 0, and no field holds a NUL.
type short struct{ a, b uint64 }

// tagMet is a tag met lately; it is no longer than a line of the processor's
// memory.
type tagMet struct {
	as    short
	since uint32 // counts the tags that came
	key   uint64 // 0 where there is none
	// fish is what the tag stands for, once it was looked up.
	fish knownFish
	is   standing
}

// standing is whether a tag stands for a fish.
type standing uint8

const (
	notLookedUp standing = iota
	isKnown
	isStranger
)

// placeMet is a site and antenna met lately.
type placeMet struct {
	site, antenna short
	place         int32
	known         bool
}

// use makes ready for a layout.
func (m *met) use(l *layout) {
	if m.layout != l {
		*m = met{layout: l, since: m.since}
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

const scatter = 0x9E3779B97F4A7C15 // 2^64 over the golden ratio

// tag finds the key of a record's tag, if it was met lately; where it was not
// it may be kept, by keepTag.
func (m *met) tag(r *record, tag []byte) bool {
	s, ok := shorten(tag)
	if !ok {
		return false
	}
	r.met = int32((s.a*scatter ^ s.b) * scatter >> (64 - tagsMet))
	t := &m.tags[r.met]
	if t.as != s || t.key == 0 {
		return false
	}
	r.tagKey, r.since = t.key, t.since
	return true
}

// keepTag keeps the tag of a record for those to come.
func (m *met) keepTag(r *record, tag []byte) {
	if r.met < 0 {
		return
	}
	m.since++
	r.since = m.since
	t := &m.tags[r.met]
	t.as, _ = shorten(tag)
	t.key, t.since, t.is = r.tagKey, m.since, notLookedUp
}

// place is where the place of a record is kept, perhaps not known yet; nil
// where it cannot be kept.
func (m *met) place(site, antenna []byte) *placeMet {
	s, ok1 := shorten(site)
	a, ok2 := shorten(antenna)
	if !ok1 || !ok2 {
		return nil
	}
	p := &m.places[(s.a^s.b*3^bits.RotateLeft64(a.a^a.b*5, 32))*scatter>>(64-placesMet)]
	if p.site != s || p.antenna != a {
		*p = placeMet{site: s, antenna: a}
	}
	return p
}

// lookUp finds what a record's tag stands for; nil where it stands for nothing.
// It is valid until the next call.
func (c *cases) lookUp(r *record) *knownFish {
	if r.met < 0 || c.met.tags[r.met].since != r.since {
		if !c.search(r, &c.met.other) {
			return nil
		}
		return &c.met.other
	}
	t := &c.met.tags[r.met]
	if t.is == notLookedUp {
		t.is = isStranger
		if c.search(r, &t.fish) {
			t.is = isKnown
		}
	}
	if t.is == isStranger {
		return nil
	}
	return &t.fish
}

// search is lookUp in the index itself.
func (c *cases) search(r *record, k *knownFish) (ok bool) {
	x := c.fish.index
	s := x.find(r.tagKey, c.field(r.tag))
	if s != nil {
		*k = x.known(s)
	}
	return s != nil
}
