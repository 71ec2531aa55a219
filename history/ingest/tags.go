package ingest

import (
	"example.org/unseen/history/tagcode"
)

// tagReader turns the tags of one form into keys.
type tagReader struct {
	text bool // plain text instead of ISO 11784
}

// key gives the key of a tag: the code itself, or the hash of a text, of at most
// keyBits bits and never 0; ok is false where the tag cannot be read.
func (r tagReader) key(b []byte, reversed bool) (key uint64, ok bool) {
	if r.text {
		b = trimmed(b)
		return hashText(b), len(b) > 0
	}
	if c, ok := tagcode.Decode(b); ok {
		return uint64(c), true
	}
	c, err := r.parse(string(b), reversed)
	return uint64(c), err == nil
}

func (r tagReader) parse(s string, reversed bool) (tagcode.Code, error) {
	if reversed {
		return tagcode.Reversed(s)
	}
	return tagcode.Parse(s)
}

// keyOf is the key of a tag, or why there is none.
func (r tagReader) keyOf(s string) (uint64, error) {
	if r.text {
		return hashText(trimmed([]byte(s))), nil
	}
	c, err := tagcode.Parse(s)
	return uint64(c), err
}

// canonical is the form a tag is shown in, with its key.
func (r tagReader) canonical(s string) (string, uint64, error) {
	if r.text {
		b := trimmed([]byte(s))
		return string(b), hashText(b), nil
	}
	c, err := tagcode.Parse(s)
	if err != nil {
		return "", 0, err
	}
	return c.String(), uint64(c), nil
}

// fnv is the start of FNV-1a, and fnvAdd goes on with a byte.
const fnv = uint64(14695981039346656037)

func fnvAdd(h uint64, c byte) uint64 { return (h ^ uint64(c)) * 1099511628211 }

func fnvText(h uint64, b []byte) uint64 {
	for _, c := range b {
		h = fnvAdd(h, c)
	}
	return h
}

// hashText is FNV-1a with a last mixing, of keyBits bits and never 0.
func hashText(b []byte) uint64 {
	h := fnvText(fnv, b)
	h ^= h >> 32
	return max(1, h*scatter>>(64-keyBits))
}

// stranger is what is kept of a tag that is no fish of the study.
type stranger struct {
	key         uint64
	reads       int64
	first, last int64
	place       uint64 // of its reads, while they are all at one
	several     bool
	pos         int64 // of its first record
}

// strangers counts the tags that are no fish of the study. It grows with the
// number of such tags.
type strangers struct {
	slots []stranger
	n     int
}

func (s *strangers) at(key uint64) *stranger {
	if s.n*2 >= len(s.slots) {
		old := s.slots
		s.slots = make([]stranger, max(64, 2*len(old)))
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

func (s *strangers) slot(key uint64) *stranger {
	mask := len(s.slots) - 1
	for i := int(key*scatter>>33) & mask; ; i = (i + 1) & mask {
		if s.slots[i].key == key || s.slots[i].key == 0 {
			return &s.slots[i]
		}
	}
}

func (x *stranger) add(o stranger) {
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

// hashPlace tells antennas apart, known or not.
func hashPlace(site, antenna []byte) uint64 {
	return fnvText(fnvAdd(fnvText(fnv, site), 0), antenna)
}
