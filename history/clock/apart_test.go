package clock

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// What a spreadsheet keeps of a date and a time of day is written out.
func TestDayFraction(t *testing.T) {
	for in, want := range map[string]string{
		"0": "00:00:00", "0.5": "12:00:00", ".25": "06:00:00", "4.1666666666666664E-2": "01:00:00", "0.99999999999": "23:59:59.999",
		"0.000011574074074074074": "00:00:01", "0.1234567": "02:57:46.659",
		"1": "1", "1.5": "1.5", "-0.5": "-0.5", "0405": "0405", "12:30": "12:30", "12.30": "12.30", "noon": "noon", "": "",
	} {
		assert.Equal(t, want, string(appendTimeOfDay(nil, []byte(in))), in)
	}
	for in, want := range map[string]string{"45752": "2025-04-05", "60000": "2064-04-08", "00001": "00001", "4575x": "4575x", "2025-04-05": "2025-04-05"} {
		assert.Equal(t, want, string(appendDay(nil, []byte(in))), in)
	}
}

// Where points part hours from minutes, what looks like a part of a day is none.
func TestPointTimes(t *testing.T) {
	for in, want := range map[string]bool{"20.30": true, "9.05": true, " 09.05.59 ": true, "0.15": false, "9.65": false, "9.5": false, "20.305": false, "0.5": false, "": false, "20:30": false} {
		assert.Equal(t, want, IsPointTime([]byte(in)), in)
	}
	for points, want := range map[bool]string{true: "2025-04-05 0.15", false: "2025-04-05 03:36:00"} {
		assert.Equal(t, want, string(AppendJoined(nil, []byte("45752"), []byte("0.15"), points)))
	}
	got, fault := Layout{}.Parse(AppendJoined(nil, []byte("2025-04-05"), []byte("00.17"), false))
	assert.Equal(t, OK, fault)
	assert.Equal(t, at(2025, 4, 5, 0, 17, 0), got.Ms)
}

func TestAppendParts(t *testing.T) {
	for _, c := range []struct {
		parts, want string
		at          int64 // local, or of UTC
	}{
		{"2025|5|3", "2025-05-03", at(2025, 5, 3, 0, 0, 0)},
		{"2025|5.|3.|8:05", "2025-05-03 8:05", at(2025, 5, 3, 8, 5, 0)},
		{"2025|May|3|20|5|7", "2025-May-03 20:05:07", at(2025, 5, 3, 20, 5, 7)},
		{"2025|5|3|20|5|7.5", "2025-05-03 20:05:07.5", at(2025, 5, 3, 20, 5, 7) + 500},
		{"2025|5|3|20|5", "2025-05-03 20:05", at(2025, 5, 3, 20, 5, 0)},
		{"2025|5|3|0.5", "2025-05-03 12:00:00", at(2025, 5, 3, 12, 0, 0)},
		{"2025|5|3|0.15", "2025-05-03 0.15", at(2025, 5, 3, 0, 15, 0)},
		{"2025|5|3|8:05:00|pm|UTC+2", "2025-05-03 8:05:00 pm UTC+2", at(2025, 5, 3, 18, 5, 0)},
		{"3.5.2025|8:05|PM", "3.5.2025 8:05 PM", at(2025, 5, 3, 20, 5, 0)},
		{"45780|20:05|+02:00", "2025-05-03 20:05 +02:00", at(2025, 5, 3, 18, 5, 0)},
		{"2025|5|3||", "2025-05-03", at(2025, 5, 3, 0, 0, 0)},
		{"2025||3|8:05", "", 0}, {"|5|3|8:05", "", 0}, {"||", "", 0},
	} {
		var parts [][]byte
		for _, p := range strings.Split(c.parts, "|") {
			parts = append(parts, []byte(p))
		}
		got := string(AppendParts(nil, parts))
		assert.Equal(t, c.want, got, c.parts)
		if c.at != 0 {
			v, fault := Layout{Order: DayFirst}.Parse([]byte(got))
			assert.Equal(t, OK, fault, c.parts)
			assert.Equal(t, c.at, v.Ms, c.parts)
		}
	}
}
