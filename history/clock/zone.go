// Package clock reads times as river readers, loggers and spreadsheets write
// them, and turns them into instants: Unix milliseconds.
//
// Begin with [Survey], which tells the layout of a column; ExampleSurvey shows
// it.
package clock

import (
	"encoding/binary"
	"sort"
	"time"

	"example.org/unseen/history"
)

// How says how many instants a clock on the wall showed a time.
type How uint8

const (
	Once How = iota // the local time occurs once
	// Never: the clock jumped over it.
	Never
	// Twice: the clock was put back over it.
	Twice
)

// Zone turns wall-clock times into instants. It is safe for concurrent use. The
// zero value is UTC without its name.
type Zone struct {
	name string
	// from[i] is the instant from which offset[i] holds, both milliseconds.
	from, offset []int64
}

// UTC is the zone of times that need no conversion.
var UTC = NewZone(time.UTC)

// NewZone is the zone of a location; nil is UTC.
func NewZone(loc *time.Location) *Zone {
	if loc == nil {
		loc = time.UTC
	}
	z := &Zone{name: loc.String()}
	t := time.Date(firstYear, 1, 1, 0, 0, 0, 0, time.UTC).In(loc)
	stop := time.Date(lastYear, 1, 1, 0, 0, 0, 0, time.UTC)
	from := int64(-1 << 62)
	for {
		_, seconds := t.Zone()
		if n := len(z.offset); n == 0 || z.offset[n-1] != int64(seconds)*1000 {
			z.from = append(z.from, from)
			z.offset = append(z.offset, int64(seconds)*1000)
		}
		_, end := t.ZoneBounds()
		if end.IsZero() || !end.Before(stop) {
			return z
		}
		if !end.After(t) {
			// ZoneBounds stands still at the ends of some years, where no
			// clock changes.
			end = t.Add(24 * time.Hour)
		}
		from = end.UnixMilli()
		t = end
	}
}

func (z *Zone) String() string { return z.name }

// Changes are the instants between from and to (Unix milliseconds) at which
// the clock was moved, and by how many milliseconds.
func (z *Zone) Changes(from, to int64) (at, by []int64) {
	for i := 1; i < len(z.from); i++ {
		if z.from[i] >= from && z.from[i] < to {
			at = append(at, z.from[i])
			by = append(by, z.offset[i]-z.offset[i-1])
		}
	}
	return at, by
}

// Offset is the wall clock less UTC, in milliseconds, at an instant.
func (z *Zone) Offset(ms int64) int64 {
	if len(z.from) == 0 {
		return 0
	}
	i := sort.Search(len(z.from), func(i int) bool { return z.from[i] > ms })
	return z.offset[max(0, i-1)]
}

// Instant is the instant at which the clock showed local, milliseconds since
// 1970-01-01 00:00 on the wall. Where it showed that twice, the instant is
// the first; where it never did, the time is read with the offset before the
// jump (RFC 5545, section 3.3.5).
func (z *Zone) Instant(local int64) (int64, How) {
	ms, how, _, _, _ := z.instant(local)
	return ms, how
}

// instant also gives the wall times [low, high) around local that are shown
// once and have the same offset; low = high where local is not such a time.
func (z *Zone) instant(local int64) (ms int64, how How, low, high, offset int64) {
	if z == nil || len(z.from) == 0 {
		z = UTC
	}
	// The last period whose start, on its own clock, is not after local.
	i := sort.Search(len(z.from), func(i int) bool { return i > 0 && z.from[i]+z.offset[i] > local }) - 1
	offset = z.offset[i]
	if i > 0 && local < z.from[i]+z.offset[i-1] {
		return local - z.offset[i-1], Twice, 0, 0, z.offset[i-1]
	}
	low, high = z.from[i]+offset, int64(1<<62)
	if i > 0 {
		low = z.from[i] + max(offset, z.offset[i-1])
	}
	if i+1 < len(z.from) {
		if local >= z.from[i+1]+offset {
			return local - offset, Never, 0, 0, offset
		}
		high = z.from[i+1] + min(offset, z.offset[i+1])
	}
	return local - offset, Once, low, high, offset
}

// Cursor is a zone that remembers where it last looked, and the date it read
// last, for one goroutine.
type Cursor struct {
	zone              *Zone
	low, high, offset int64
	dates             Dates
}

// Cursor gives a cursor of the zone.
func (z *Zone) Cursor() Cursor { return Cursor{zone: z} }

// Instant is [Zone.Instant].
func (c *Cursor) Instant(local int64) (int64, How) {
	if local >= c.low && local < c.high {
		return local - c.offset, Once
	}
	ms, how, low, high, offset := c.zone.instant(local)
	if low < high {
		c.low, c.high, c.offset = low, high, offset
	}
	return ms, how
}

// Read is the instant that a value written in a layout names, [Layout.Parse]
// and [Zone.Instant] in one.
func (c *Cursor) Read(l Layout, b []byte) (ms int64, how How, fault Fault) {
	// Most are of the date read last.
	if len(b) == 19 && l == c.dates.layout && c.dates.remembers(b) {
		if t, ok := timeOf(binary.LittleEndian.Uint64(b[11:])); ok {
			if t += c.dates.ms; t >= c.low && t < c.high {
				return t - c.offset, Once, OK
			}
		}
	}
	v, fault := c.dates.Parse(l, b)
	if fault != OK || v.Absolute {
		return v.Ms, Once, fault
	}
	ms, how = c.Instant(v.Ms)
	return ms, how, OK
}

// Format writes an instant as the zone's clock showed it, with its offset:
// "2025-03-30 02:30:00+01:00", to the second, or "" for [history.NoTime].
func (z *Zone) Format(ms int64) string {
	if ms == history.NoTime {
		return ""
	}
	offset := z.Offset(ms)
	if z.name == "UTC" || z.name == "" {
		return time.UnixMilli(ms).UTC().Format("2006-01-02 15:04:05Z")
	}
	loc := time.FixedZone("", int(offset/1000))
	return time.UnixMilli(ms).In(loc).Format("2006-01-02 15:04:05-07:00")
}
