package sighting

import "hash/maphash"

// unknownTag is what is kept of a tag that is no fish of the study.
type unknownTag struct {
	reads       int64
	first, last int64
	place       uint64 // of its reads, while they are all at one
	several     bool
	pos         int64 // of its first record
}

// unknownTags are the tags, by key, that are no fish of the study.
type unknownTags map[uint64]*unknownTag

func (s unknownTags) add(key uint64, o unknownTag) {
	x := s[key]
	if x == nil {
		s[key] = &o
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
