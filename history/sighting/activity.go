package sighting

import "maps"

// Activity is when a place recorded anything, of whatever tag.
type Activity struct {
	Records     int64 // of any tag
	First, Last int64 // Unix milliseconds; of no meaning without records

	busy map[int64]bool // the hours with a record
	hour int64          // the one counted last
}

func (a *Activity) add(ms int64) {
	hour := Hour(ms)
	if a.busy == nil {
		a.busy = map[int64]bool{hour: true}
		a.First, a.Last, a.hour = ms, ms, hour
	}
	a.Records++
	a.First, a.Last = min(a.First, ms), max(a.Last, ms)
	if hour != a.hour { // most records are of the hour of the one before
		a.busy[hour], a.hour = true, hour
	}
}

// Busy tells whether there was a record in an hour since 1970.
func (a *Activity) Busy(hour int64) bool { return a.busy[hour] }

// Hour is the number of the hour since 1970 that a moment lies in.
func Hour(ms int64) int64 {
	const hour = 3600_000
	if ms < 0 {
		ms -= hour - 1
	}
	return ms / hour
}

func (a *Activity) join(o *Activity) {
	if a.Records == 0 || o.Records == 0 {
		if a.Records == 0 {
			*a = *o
		}
		return
	}
	a.Records += o.Records
	a.First, a.Last = min(a.First, o.First), max(a.Last, o.Last)
	maps.Copy(a.busy, o.busy)
}
