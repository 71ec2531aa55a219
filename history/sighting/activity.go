package sighting

import "example.org/unseen/history/rule"

// Activity is when a place recorded anything, of whatever tag.
type Activity struct {
	Records     int64
	First, Last int64 // Unix milliseconds; of no meaning without records

	// busy has for each page a bit for every hour with a record.
	busy map[int64]*[pageHours / 64]uint64
	page int64 // the page used last
	bits *[pageHours / 64]uint64
	// counted is the hour that was counted last.
	counted rule.Window
}

// Hours are counted in pages of 64 days, so that a wrong year costs a page and
// not the years between.
const pageHours = 64 * 24

func (a *Activity) add(ms int64) {
	if a.Records++; ms >= a.counted.From && ms < a.counted.To {
		a.First, a.Last = min(a.First, ms), max(a.Last, ms)
		return
	}
	a.addHour(ms)
}

// addHour is add for a record of another hour than the one before.
func (a *Activity) addHour(ms int64) {
	if a.Records == 1 {
		a.First, a.Last = ms, ms
	}
	a.First, a.Last = min(a.First, ms), max(a.Last, ms)
	hour := Hour(ms)
	a.counted = rule.Window{From: hour * 3600_000, To: (hour + 1) * 3600_000}
	if page := floorDiv(hour, pageHours); a.bits == nil || page != a.page {
		a.page, a.bits = page, a.busy[page]
		if a.bits == nil {
			if a.busy == nil {
				a.busy = map[int64]*[pageHours / 64]uint64{}
			}
			a.bits = new([pageHours / 64]uint64)
			a.busy[page] = a.bits
		}
	}
	h := hour - a.page*pageHours
	a.bits[h>>6] |= 1 << (h & 63)
}

// Busy tells whether there was a record in an hour since 1970.
func (a *Activity) Busy(hour int64) bool {
	page := floorDiv(hour, pageHours)
	bits := a.busy[page]
	h := hour - page*pageHours
	return bits != nil && bits[h>>6]&(1<<(h&63)) != 0
}

// Hour is the number of the hour since 1970 that a moment lies in.
func Hour(ms int64) int64 { return floorDiv(ms, 3600_000) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func (a *Activity) join(o *Activity) {
	if o.Records == 0 {
		return
	}
	if a.Records == 0 {
		a.First, a.Last = o.First, o.Last
	}
	a.Records += o.Records
	a.First, a.Last = min(a.First, o.First), max(a.Last, o.Last)
	if a.busy == nil {
		a.busy = map[int64]*[pageHours / 64]uint64{}
	}
	for page, bits := range o.busy {
		mine := a.busy[page]
		if mine == nil {
			a.busy[page] = bits
			continue
		}
		for i := range mine {
			mine[i] |= bits[i]
		}
	}
}
