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

// AppendParts appends a time that stood in several columns as one value: a date,
// or year, month and day; then a time of day, or hours, minutes and perhaps
// seconds; then what else belongs to it, such as PM or UTC+2. It appends nothing
// without a date.
func AppendParts(buf []byte, parts [][]byte) []byte {
	buf, parts, ok := appendDate(buf, parts)
	if !ok {
		return buf
	}
	if n := countClock(parts); n > 0 {
		for i, sign := range []byte(" ::")[:n] {
			buf = append(buf, sign)
			if len(parts[i]) == 1 || parts[i][1] == '.' {
				buf = append(buf, '0')
			}
			buf = append(buf, parts[i]...)
		}
		parts = parts[n:]
	}
	for _, p := range parts {
		if len(p) == 0 {
			continue
		}
		// Of two decimals it is hours and minutes more often than a part of a day.
		if buf = append(buf, ' '); len(p) == 4 && p[0] == '0' && p[1] == '.' && string(p) != "0.25" && string(p) != "0.75" {
			buf = append(buf, p...)
		} else {
			buf = appendTimeOfDay(buf, p)
		}
	}
	return buf
}

// appendDate appends the date that the first part is, or the first three are.
func appendDate(buf []byte, parts [][]byte) (out []byte, rest [][]byte, ok bool) {
	if len(parts) == 0 {
		return buf, nil, false
	}
	first := parts[0]
	if len(parts) < 3 || len(first) != 4 && len(first) != 2 || !figures(first) {
		return appendDay(buf, first), parts[1:], len(first) > 0
	}
	if len(parts[1]) == 0 || len(parts[2]) == 0 {
		return buf, nil, false
	}
	for i, p := range parts[:3] {
		if i > 0 {
			buf = append(buf, '-')
		}
		if p = bytes.TrimSuffix(p, []byte(".")); len(p) == 1 {
			buf = append(buf, '0')
		}
		buf = append(buf, p...)
	}
	return buf, parts[3:], true
}

// countClock is how many parts are hours, minutes and seconds; 0 where the first
// is a whole time of day.
func countClock(parts [][]byte) (n int) {
	for n < min(3, len(parts)) && len(parts[n]) > 0 && len(parts[n]) <= 2 && figures(parts[n]) {
		n++
	}
	if n == 2 && len(parts) > 2 {
		if whole, _, found := bytes.Cut(parts[2], []byte(".")); found && len(whole) > 0 && len(whole) <= 2 && figures(whole) {
			n++ // seconds with decimals
		}
	}
	if n < 2 {
		return 0
	}
	return n
}

func figures(b []byte) bool {
	for _, c := range b {
		if c-'0' > 9 {
			return false
		}
	}
	return len(b) > 0
}
