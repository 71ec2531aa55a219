package sighting

import (
	"cmp"
	"hash/maphash"
	"slices"
)

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

// UnknownTag is a tag that is no fish of the study.
type UnknownTag struct {
	Tag   string // in the form tags are shown in; "" where they are text
	Reads int64
}

// UnknownTags are the tags of the box unknown_tag, the most read first.
func (res *Result) UnknownTags() []UnknownTag {
	var out []UnknownTag
	for key, x := range res.run.total.unknown {
		if res.run.judge.testTags[key] {
			continue
		}
		t := UnknownTag{Reads: x.reads}
		if !res.run.opt.Form.Text {
			t.Tag = res.run.opt.Form.Shown(key, "")
		}
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b UnknownTag) int {
		return cmp.Or(cmp.Compare(b.Reads, a.Reads), cmp.Compare(a.Tag, b.Tag))
	})
	return out
}

// IsUnknown tells whether a cell is a tag of the box unknown_tag, and how often
// it was read.
func (res *Result) IsUnknown(cell string) (reads int64, ok bool) {
	key, err := res.run.opt.Form.KeyOf(cell)
	if err != nil || res.run.judge.testTags[key] {
		return 0, false
	}
	x := res.run.total.unknown[key]
	if x == nil {
		return 0, false
	}
	return x.reads, true
}
