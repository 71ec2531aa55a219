package sighting

import "hash/maphash"

// unknownTag is what is kept of a tag that is no fish of the study.
type unknownTag struct {
	key         uint64
	reads       int64
	first, last int64
	place       uint64 // of its reads, while they are all at one
	several     bool
	pos         int64 // of its first record
}

// unknownTags counts the tags that are no fish of the study. It grows with the
// number of such tags.
type unknownTags struct {
	slots []unknownTag
	n     int
}

func (s *unknownTags) at(key uint64) *unknownTag {
	if s.n*2 >= len(s.slots) {
		old := s.slots
		s.slots = make([]unknownTag, max(64, 2*len(old)))
		for i := range old {
			if old[i].key != 0 {
				*s.slot(old[i].key) = old[i]
			}
		}
	}
	x := s.slot(key)
	if x.key == 0 {
		x.key = key
		s.n++
	}
	return x
}

func (s *unknownTags) slot(key uint64) *unknownTag {
	mask := len(s.slots) - 1
	for i := int(key*scatter>>33) & mask; ; i = (i + 1) & mask {
		if s.slots[i].key == key || s.slots[i].key == 0 {
			return &s.slots[i]
		}
	}
}

func (x *unknownTag) add(o unknownTag) {
	if x.reads == 0 {
		key := x.key
		*x = o
		x.key = key
		return
	}
	x.first, x.last = min(x.first, o.first), max(x.last, o.last)
	x.several = x.several || o.several || x.place != o.place
	x.reads += o.reads
	x.pos = min(x.pos, o.pos)
}

var placeSeed = maphash.MakeSeed()

// hashPlace tells antennas apart within one run, known or not.
func hashPlace(site, antenna []byte) uint64 {
	return maphash.Bytes(placeSeed, site)*scatter ^ maphash.Bytes(placeSeed, antenna)
}
