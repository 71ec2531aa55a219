// Package tagindex reads tags of either form and finds what each stands for in
// a study. The index is looked up once or so for every record of millions, at
// random: what it costs is waiting for memory, so all of it is made small.
//
// Begin with [Form]; ExampleForm_Canonical and ExampleForm_Key show it.
package tagindex

import (
	"bytes"
	"math"
	"math/bits"

	"example.org/unseen/history/rule"
)

// Index finds what a tag stands for. It is a hash table with open addressing, at
// most half full, that may be read by many at once. What every record of a tag
// needs stands in its slot.
type Index struct {
	slots []Slot
	shift uint
	// texts are the tags by slot, where they are plain text: hashes can
	// collide. nil for codes.
	texts []string
	// base is the moment from which releases are counted.
	base int64
	// taken are how many slots are.
	taken int
}

// MaxTags is how many tags an index has room for at most.
const MaxTags = 1 << 24

// Slot is a tag's place in the index. A release that is not of a whole second,
// or too far from the base, is not in it: that fish is special.
type Slot struct {
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

// Meaning is what a tag of the study stands for, as the rules see it.
type Meaning struct {
	// Released, in Unix milliseconds, is not set for a special fish, and may not
	// be.
	Released int64
	Fish     int32 // its number
	Entry    uint8 // the site where it enters
	// Special: there is more to know of the fish than its release.
	Special bool
	// Rule is what all records of the tag fall under: TestTag, SharedTag,
	// Died, Ghost, or None.
	Rule rule.ID
}

// New makes room for n tags, at most [MaxTags], of plain text or of ISO 11784.
// base is the earliest release.
func New(n int, text bool, base int64) *Index {
	n = min(n, MaxTags)
	size := bits.Len(uint(max(2*n, 16) - 1))
	x := &Index{slots: make([]Slot, 1<<size), shift: uint(64 - size), base: base}
	if text {
		x.texts = make([]string, 1<<size)
	}
	return x
}

// Holds tells whether a release can stand in a slot.
func (x *Index) Holds(released int64) bool {
	since := released - x.base
	return since >= 0 && since%1000 == 0 && since/1000 <= math.MaxUint32
}

// scatter spreads keys over the slots: 2^64 over the golden ratio.
const scatter = 0x9E3779B97F4A7C15

func (x *Index) place(key uint64) int { return int(key * scatter >> x.shift) }

// Find gives the slot of a tag, nil where there is none. tag is the tag as
// read, looked at only where tags are text.
func (x *Index) Find(key uint64, tag []byte) *Slot {
	if len(x.slots) == 0 {
		return nil
	}
	for i := x.place(key); ; i = (i + 1) & (len(x.slots) - 1) {
		s := &x.slots[i]
		if s.bits>>(64-keyBits) == key && (x.texts == nil || x.texts[i] == string(bytes.TrimSpace(tag))) {
			return s
		}
		if s.bits == 0 {
			return nil
		}
	}
}

// Put adds a tag that is not in the index, standing for nothing yet; nil where no
// room was made for it.
func (x *Index) Put(key uint64, tag string) *Slot {
	if x.taken+1 >= len(x.slots) { // a slot stays free, for Find to end at
		return nil
	}
	x.taken++
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

// Meaning is what the tag in a slot stands for.
func (x *Index) Meaning(s *Slot) Meaning {
	if s == nil {
		return Meaning{}
	}
	return Meaning{
		Released: x.base + int64(s.released)*1000,
		Fish:     s.fish,
		Entry:    uint8(s.bits >> entryAt),
		Special:  s.bits>>specialAt&1 == 1,
		Rule:     rule.ID(s.bits & ruleMask),
	}
}

// Fish is the number of the fish the tag in a slot stands for.
func (s *Slot) Fish() int32 { return s.fish }

// Fetch has the memory of a tag's slot fetched, so that looking it up soon after
// need not wait. The value means nothing; it must be used, or the compiler
// leaves the fetching out.
func (x *Index) Fetch(key uint64) uint64 {
	if len(x.slots) == 0 {
		return 0
	}
	return x.slots[x.place(key)].bits
}

// Set says what the tag in a slot stands for.
func (x *Index) Set(s *Slot, k Meaning) {
	if s == nil {
		return
	}
	s.fish, s.released = k.Fish, 0
	s.bits = s.bits>>(64-keyBits)<<(64-keyBits) | uint64(k.Entry)<<entryAt | uint64(k.Rule)
	if k.Special {
		s.bits |= 1 << specialAt
	} else if x.Holds(k.Released) {
		s.released = uint32((k.Released - x.base) / 1000)
	}
}

// Renumber gives the fish new numbers by their old ones; a fish beyond them keeps
// its own.
func (x *Index) Renumber(to []int32) {
	for i := range x.slots {
		if s := &x.slots[i]; s.bits != 0 && s.fish >= 0 && int(s.fish) < len(to) {
			s.fish = to[s.fish]
		}
	}
}
