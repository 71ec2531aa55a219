package history

import "time"

// DayStart is the first moment of a calendar day in loc: its midnight, the first
// where the clock shows it twice, and where the clock is put forward over it the
// moment of the change. A day out of its month's range is carried over, as by
// [time.Date]; so the end of a day, which no longer belongs to it, is the start
// of the next. A nil loc is UTC.
func DayStart(year int, month time.Month, day int, loc *time.Location) time.Time {
	if loc == nil {
		loc = time.UTC
	}
	midnight := time.Date(year, month, day, 0, 0, 0, 0, time.UTC) // as the wall shows it
	read := func(by time.Time) time.Time {
		_, offset := by.Zone()
		return midnight.Add(-time.Duration(offset) * time.Second).In(loc)
	}
	shows := func(t time.Time) bool { return read(t).Equal(t) }
	// The clock of the day before, and that in force when it would show midnight.
	before := read(time.Date(year, month, day-1, 12, 0, 0, 0, loc))
	if shows(before) {
		return before
	}
	if after := read(before); shows(after) {
		return after
	}
	start, _ := before.ZoneBounds()
	return start
}
