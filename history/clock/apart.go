package clock

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"time"
)

// AppendJoined appends a date and a time of day that stood in columns of their
// own, as one value. Either may be the number that a spreadsheet keeps instead;
// not the time where points are known to part hours from minutes in its column:
// see [IsPointTime].
func AppendJoined(buf, date, timeOfDay []byte, points bool) []byte {
	buf = append(appendDay(buf, bytes.TrimSpace(date)), ' ')
	if timeOfDay = bytes.TrimSpace(timeOfDay); points {
		return append(buf, timeOfDay...)
	}
	return appendTimeOfDay(buf, timeOfDay)
}

// IsPointTime tells a time of day such as 20.30, which no spreadsheet keeps: in
// its column 0.15 is a quarter past midnight and no part of a day.
func IsPointTime(timeOfDay []byte) bool {
	b := bytes.TrimSpace(timeOfDay)
	i := bytes.IndexByte(b, '.')
	return (i == 1 && b[0] != '0' || i == 2) && len(b) >= i+3 && b[0]-'0' <= 9 && b[i-1]-'0' <= 9 && b[i+1]-'0' <= 5 && b[i+2]-'0' <= 9 &&
		(len(b) == i+3 || len(b) == i+6 && b[i+3] == '.')
}

// appendDay appends a date; one that is a spreadsheet's day number, as 45752, is
// written out.
func appendDay(buf, date []byte) []byte {
	if len(date) != 5 {
		return append(buf, date...)
	}
	n, err := strconv.Atoi(string(date))
	if err != nil || n < 10_000 {
		return append(buf, date...)
	}
	return time.Date(1899, 12, 30+n, 0, 0, 0, 0, time.UTC).AppendFormat(buf, time.DateOnly)
}

// appendTimeOfDay appends a time of day; one that is a fraction of a day, as a
// spreadsheet keeps it, is written out to the millisecond.
func appendTimeOfDay(buf, clock []byte) []byte {
	v, ok := DayFraction(string(clock))
	if !ok {
		return append(buf, clock...)
	}
	ms := min(time.Duration(math.Round(v*86_400_000)), 86_399_999)
	return time.Time{}.Add(ms*time.Millisecond).AppendFormat(buf, "15:04:05.999")
}

// DayFraction reads a fraction of a day: a number from 0 to below 1 with a
// decimal point, or 0 itself.
func DayFraction(s string) (v float64, ok bool) {
	if strings.HasPrefix(s, "00.") { // a time with a point
		return 0, false
	}
	if s != "0" && !strings.ContainsAny(s, ".E") || strings.Trim(s, "0123456789.-+eE") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && v >= 0 && v < 1
}
