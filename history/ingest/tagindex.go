package ingest

import (
	"math"
	"math/bits"

	"example.org/unseen/history/rule"
)

// tagIndex finds what a tag stands for. It is a hash table with open
// addressing, at most half full, that is read by many at once. It is looked up
// at random, so what every record of a tag needs stands in its slot, and the
// slots are small.
type tagIndex struct {
	slots []tagSlot
	shift uint
	// texts are the tags by slot, where they are plain text: hashes can
	// collide. nil for codes.
	texts []string
	// base is the moment from which releases are counted.
	base int64
}

// tagSlot is a tag's place in the index. A release that is not of a whole
// second, or too far from the base, is not in it: that fish is special.
type tagSlot struct {
	// bits are, from the highest, the key, the site of entry in 8 bits,
	// whether the fish is special in 1, and the rule in 5; 0 where the slot is
	// free.
	bits     uint64
	fish     int32
	released uint32 // seconds since the base
}

const (
	// keyBits hold every code of ISO 11784: 999·10^12 + 2^38 is below 2^50.
	keyBits   = 50
	entryAt   = 6
	specialAt = 5
	ruleMask  = 1<<specialAt - 1
)

var _ [ruleMask + 1 - int(rule.Count)]struct{} // there is room for all rules

// knownFish is a tag of the study as the rules see it.
type knownFish struct {
	// released is not set for a special fish, and may not be.
	released int64
	fish     int32 // its number: below the length of hist, its place there
	entry    uint8
	special  bool
	// rule is what all records of the tag fall under: TestTag, SharedTag,
	// Died, Ghost, or None.
	rule rule.ID
}

// newTagIndex makes room for n tags.
func newTagIndex(n int, text bool, base int64) *tagIndex {
	size := bits.Len(uint(max(2*n, 16) - 1))
	x := &tagIndex{slots: make([]tagSlot, 1<<size), shift: uint(64 - size), base: base}
	if text {
		x.texts = make([]string, 1<<size)
	}
	return x
}

// holds tells whether a release can stand in a slot.
func (x *tagIndex) holds(released int64) bool {
	since := released - x.base
	return since >= 0 && since%1000 == 0 && since/1000 <= math.MaxUint32
}

func (x *tagIndex) place(key uint64) int { return int(key * scatter >> x.shift) }

// find gives the slot of a tag, nil where there is none. tag is the tag as
// read, looked at only where tags are text.
func (x *tagIndex) find(key uint64, tag []byte) *tagSlot {
	for i := x.place(key); ; i = (i + 1) & (len(x.slots) - 1) {
		s := &x.slots[i]
		if s.bits>>(64-keyBits) == key && (x.texts == nil || x.texts[i] == string(trimmed(tag))) {
			return s
		}
		if s.bits == 0 {
			return nil
		}
	}
}

// put adds a tag that is not in the index, standing for nothing yet.
func (x *tagIndex) put(key uint64, tag string) *tagSlot {
	for i := x.place(key); ; i = (i + 1) & (len(x.slots) - 1) {
		if s := &x.slots[i]; s.bits == 0 {
			s.bits = key << (64 - keyBits)
			if x.texts != nil {
				x.texts[i] = tag
			}
			return s
		}
	}
}

// known is what the tag in a slot stands for.
func (x *tagIndex) known(s *tagSlot) knownFish {
	return knownFish{
		released: x.base + int64(s.released)*1000,
		fish:     s.fish,
		entry:    uint8(s.bits >> entryAt),
		special:  s.bits>>specialAt&1 == 1,
		rule:     rule.ID(s.bits & ruleMask),
	}
}

// set says what the tag in a slot stands for.
func (x *tagIndex) set(s *tagSlot, k knownFish) {
	s.fish, s.released = k.fish, 0
	s.bits = s.bits>>(64-keyBits)<<(64-keyBits) | uint64(k.entry)<<entryAt | uint64(k.rule)
	if k.special {
		s.bits |= 1 << specialAt
	} else if x.holds(k.released) {
		s.released = uint32((k.released - x.base) / 1000)
	}
}

// renumber gives the fish new numbers by their old ones.
func (x *tagIndex) renumber(to []int32) {
	for i := range x.slots {
		if s := &x.slots[i]; s.bits != 0 {
			s.fish = to[s.fish]
		}
	}
}
