package sighting

import (
	"hash/maphash"
	"math/bits"
	"time"
)

// unknownTag is what is kept of a tag that is no fish of the study.
type unknownTag struct {
	reads       int64
	first, last int64
	place       uint64 // of its reads, while they are all at one
	several     bool
	times       timesOfDay
	days        uint64 // in which it was read, of 64 that come again
	pos         int64  // of its first record
}

// timesOfDay are the parts of the day (UTC) in which a tag was read.
type timesOfDay [(partsOfDay + 63) / 64]uint64

// partsOfDay are of five minutes.
const partsOfDay = 24 * 12

const day = 24 * 3600_000 // milliseconds

func dayBit(ms int64) uint64 { return 1 << uint64((ms/day%64+64)%64) }

func timeOfDay(ms int64) (t timesOfDay) {
	part := (ms%day + day) % day / (day / partsOfDay)
	t[part/64] = 1 << (part % 64)
	return t
}

// every is the time between the reads of a tag that is read at one antenna, on
// four days or more, at the same times of each day, a part of the day apart: a
// day, or 12, 8, 6, 4, 3 or 2 hours. Half of the reads may be missing. It is 0 of
// other tags.
func (x *unknownTag) every() time.Duration {
	span := x.last - x.first
	if days := min(64, span/day+1); x.several || x.reads < 5 || days < 4 || int64(bits.OnesCount64(x.days))*2 <= days {
		return 0
	}
	at := func(part int) bool {
		part = (part + partsOfDay) % partsOfDay
		return x.times[part/64]>>(part%64)&1 != 0
	}
	for _, hours := range []int{24, 12, 8, 6, 4, 3, 2} {
		period := hours * partsOfDay / 24
		expected := span/(int64(hours)*3600_000) + 1
		if x.reads*2 < expected || x.reads*10 > expected*13 {
			continue
		}
		// The clock of a reader may lie: two parts beside each other are one time.
		for phase := range period {
			fits, slots := true, 0
			for part := range partsOfDay {
				off := (part - phase + period) % period
				if fits = fits && (!at(part) || off <= 1); off == 0 && (at(part) || at(part+1)) {
					slots++
				}
			}
			if fits && slots == 24/hours {
				return time.Duration(hours) * time.Hour
			}
		}
	}
	return 0
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
	for i := range x.times {
		x.times[i] |= o.times[i]
	}
	x.days |= o.days
	x.reads += o.reads
	x.pos = min(x.pos, o.pos)
}

var placeSeed = maphash.MakeSeed()

// hashPlace tells antennas apart within one run, known or not.
func hashPlace(site, antenna []byte) uint64 {
	return maphash.Bytes(placeSeed, site)*scatter ^ maphash.Bytes(placeSeed, antenna)
}
