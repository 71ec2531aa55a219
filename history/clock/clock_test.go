package clock

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/testdata/pieces"
)

// loadZone is the zone of an IANA name.
func loadZone(name string) (*Zone, error) {
	loc, err := time.LoadLocation(name)
	return NewZone(loc), err
}

func at(y, m, d, hh, mm, ss int) int64 {
	return time.Date(y, time.Month(m), d, hh, mm, ss, 0, time.UTC).UnixMilli()
}

// Values beside Go's own time package, the outside source of what they mean.
func TestLayouts(t *testing.T) {
	want := at(2025, 5, 3, 4, 5, 6)
	for value, want := range map[string]Reading{
		"2025-05-03 04:05:06":           {Ms: want},
		"2025-05-03T04:05:06":           {Ms: want},
		" 2025-05-03  04:05:06 ":        {Ms: want},
		"2025/05/03 04:05:06":           {Ms: want},
		"2025.5.3 4:05:06":              {Ms: want},
		"20250503T040506":               {Ms: want},
		"20250503 040506":               {Ms: want},
		"2025-05-03 04:05:06.789":       {Ms: want + 789},
		"2025-05-03 04:05:06,789":       {Ms: want + 789},
		"2025-05-03 04:05":              {Ms: want - 6000},
		"2025-05-03":                    {Ms: at(2025, 5, 3, 0, 0, 0), DateOnly: true},
		"20250503":                      {Ms: at(2025, 5, 3, 0, 0, 0), DateOnly: true},
		"2025-05-03T04:05:06Z":          {Ms: want, Absolute: true},
		"2025-05-03T04:05:06.5Z":        {Ms: want + 500, Absolute: true},
		"2025-05-03 04:05:06 UTC":       {Ms: want, Absolute: true},
		"2025-05-03T04:05:06+01:00":     {Ms: want - 3600_000, Absolute: true},
		"2025-05-03T04:05:06-0330":      {Ms: want + 12600_000, Absolute: true},
		"2025-05-03T04:05:06.123456-08": {Ms: want + 8*3600_000 + 123, Absolute: true},
		"03/05/2025 04:05:06":           {Ms: want},
		"3.5.2025 4:05:06":              {Ms: want},
		"03-05-2025 04:05:06":           {Ms: want},
		"3-May-2025 04:05:06":           {Ms: want},
		"3 may 2025 4:05:06 AM":         {Ms: want},
		"03/05/2025 04:05:06 pm":        {Ms: want + 12*3600_000},
		"03/05/2025 12:05:06 AM":        {Ms: want - 4*3600_000},
		"03/05/2025":                    {Ms: at(2025, 5, 3, 0, 0, 0), DateOnly: true},
		"2025-05-03 24:00":              {Ms: at(2025, 5, 4, 0, 0, 0)},
		"45780":                         {Ms: at(2025, 5, 3, 0, 0, 0), DateOnly: true}, // Excel's 2025-05-03
		"45780.5":                       {Ms: at(2025, 5, 3, 12, 0, 0)},
		"45780,25":                      {Ms: at(2025, 5, 3, 6, 0, 0)},
		"45780.1702083333":              {Ms: want}, // 04:05:06 / 24 h to ten digits
		"1746245106":                    {Ms: want, Absolute: true},
		"1746245106.25":                 {Ms: want + 250, Absolute: true},
		"1746245106789":                 {Ms: want + 789, Absolute: true},
	} {
		got, fault := Layout{Order: DayFirst}.Parse([]byte(value))
		assert.Equal(t, OK, fault, value)
		assert.Equal(t, want, got, value)
	}
	got, fault := Layout{Order: MonthFirst}.Parse([]byte("5/3/2025 04:05:06"))
	assert.Equal(t, OK, fault)
	assert.Equal(t, want, got.Ms)
}

func TestWhatIsNoTime(t *testing.T) {
	for value, want := range map[string]Fault{
		"":                           Empty,
		"  ":                         Empty,
		"noon":                       NotATime,
		"2025-02-29 10:00":           NoSuchDay,
		"2025-13-01 10:00":           NoSuchDay,
		"2025-00-01":                 NoSuchDay,
		"30/02/2025":                 NoSuchDay,
		"03/05/25 10:00":             TwoDigitYear,
		"3-May-25":                   TwoDigitYear,
		"2025-05-03 25:00":           NoSuchTime,
		"2025-05-03 24:00:01":        NoSuchTime,
		"2025-05-03 10:60":           NoSuchTime,
		"2025-05-03 13:00 pm":        NoSuchTime,
		"2025-05-03 10":              NotATime,
		"2025-05-03 10:5":            NotATime,
		"2025-05-03 10:05 +1":        NotATime,
		"2025-05-03 10:05:06 Dublin": NotATime,
		"2025-05-03 10:05:06..":      NotATime,
		"05/13/2025 10:00":           WrongOrder,
		"1899-05-03 10:00":           OutOfRange,
		"2025-05-03X10:00":           NotATime,
		"123":                        NotATime,
		"12345678901234567890":       NotATime,
	} {
		_, fault := Layout{Order: DayFirst}.Parse([]byte(value))
		assert.Equal(t, want, fault, "%q: %v", value, fault)
		assert.NotEmpty(t, fault.String())
	}
	_, fault := Layout{}.Parse([]byte("03/05/2025"))
	assert.Equal(t, AmbiguousOrder, fault)
	_, fault = Layout{Kind: Calendar}.Parse([]byte("45780.5"))
	assert.Equal(t, OtherKind, fault)
	_, fault = Layout{Kind: Serial}.Parse([]byte("2025-05-03 10:00:00"))
	assert.Equal(t, OtherKind, fault)
}

func survey(values ...string) *Survey {
	var s Survey
	for i, v := range values {
		s.Add([]byte(v), i+2)
	}
	return &s
}

func TestSurvey(t *testing.T) {
	l, said, err := survey("03/05/2025 10:00", "04/05/2025", "25/05/2025 9:00").Settle(Unsettled)
	require.NoError(t, err)
	assert.Equal(t, Layout{Kind: Calendar, Order: DayFirst}, l)
	assert.Contains(t, said, "line 4")

	l, _, err = survey("03/05/2025 10:00", "05/25/2025").Settle(Unsettled)
	require.NoError(t, err)
	assert.Equal(t, Layout{Kind: Calendar, Order: MonthFirst}, l)

	s := survey("03/05/2025", "04/05/2025")
	assert.False(t, s.Settled())
	_, _, err = s.Settle(Unsettled)
	assert.ErrorContains(t, err, "date_order")
	l, said, err = s.Settle(MonthFirst)
	require.NoError(t, err)
	assert.Equal(t, MonthFirst, l.Order)
	assert.Empty(t, said)

	_, _, err = survey("25/05/2025", "05/25/2025").Settle(Unsettled)
	assert.ErrorContains(t, err, "line 2 has")
	_, _, err = survey("03/05/25").Settle(Unsettled)
	assert.ErrorContains(t, err, "two digits")
	_, _, err = survey("upper", "lower").Settle(Unsettled)
	assert.ErrorContains(t, err, `"upper" is not a date`)

	l, said, err = survey("45780.5", "45781.25", "2025-05-03").Settle(Unsettled)
	require.NoError(t, err)
	assert.Equal(t, Serial, l.Kind)
	assert.Contains(t, said, "spreadsheet")
	l, _, err = survey("2025-05-03 10:00", "7").Settle(Unsettled)
	require.NoError(t, err)
	assert.Equal(t, Layout{Kind: Calendar}, l)
}

// Clock changes of the IANA database (2025a): Dublin and New York in 2025,
// Lord Howe Island's half hour, Apia's lost day of 2011, Kolkata without any.
func TestClockChanges(t *testing.T) {
	for _, c := range []struct {
		zone  string
		local int64
		utc   int64
		how   How
	}{
		{"Europe/Dublin", at(2025, 3, 30, 0, 59, 59), at(2025, 3, 30, 0, 59, 59), Once},
		{"Europe/Dublin", at(2025, 3, 30, 1, 0, 0), at(2025, 3, 30, 1, 0, 0), Never},
		{"Europe/Dublin", at(2025, 3, 30, 1, 30, 0), at(2025, 3, 30, 1, 30, 0), Never},
		{"Europe/Dublin", at(2025, 3, 30, 2, 0, 0), at(2025, 3, 30, 1, 0, 0), Once},
		{"Europe/Dublin", at(2025, 7, 1, 12, 0, 0), at(2025, 7, 1, 11, 0, 0), Once},
		{"Europe/Dublin", at(2025, 10, 26, 0, 59, 59), at(2025, 10, 25, 23, 59, 59), Once},
		{"Europe/Dublin", at(2025, 10, 26, 1, 0, 0), at(2025, 10, 26, 0, 0, 0), Twice},
		{"Europe/Dublin", at(2025, 10, 26, 1, 59, 59), at(2025, 10, 26, 0, 59, 59), Twice},
		{"Europe/Dublin", at(2025, 10, 26, 2, 0, 0), at(2025, 10, 26, 2, 0, 0), Once},
		{"America/New_York", at(2025, 3, 9, 2, 30, 0), at(2025, 3, 9, 7, 30, 0), Never},
		{"America/New_York", at(2025, 11, 2, 1, 30, 0), at(2025, 11, 2, 5, 30, 0), Twice},
		{"Australia/Lord_Howe", at(2025, 4, 6, 1, 45, 0), at(2025, 4, 5, 14, 45, 0), Twice},
		{"Australia/Lord_Howe", at(2025, 10, 5, 2, 15, 0), at(2025, 10, 4, 15, 45, 0), Never},
		{"Pacific/Apia", at(2011, 12, 30, 12, 0, 0), at(2011, 12, 30, 22, 0, 0), Never},
		{"Asia/Kolkata", at(2025, 5, 3, 4, 5, 6), at(2025, 5, 2, 22, 35, 6), Once},
		{"", at(2025, 5, 3, 4, 5, 6), at(2025, 5, 3, 4, 5, 6), Once},
	} {
		z, err := loadZone(c.zone)
		require.NoError(t, err)
		got, how := z.Instant(c.local)
		assert.Equal(t, c.how, how, "%s %s", c.zone, time.UnixMilli(c.local).UTC())
		assert.Equal(t, c.utc, got, "%s %s", c.zone, time.UnixMilli(c.local).UTC())
	}
}

// Against Go's time package at random instants: the wall time of an instant
// leads back to it, unless shown twice, and a cursor agrees with its zone.
func TestZonesAgreeWithTimePackage(t *testing.T) {
	times := 20000
	if testing.Short() {
		times = 2000
	}
	for _, name := range []string{"Europe/Dublin", "America/New_York", "Australia/Lord_Howe", "Pacific/Apia", "America/Sao_Paulo"} {
		loc, err := time.LoadLocation(name)
		require.NoError(t, err)
		z := NewZone(loc)
		cursor := z.Cursor()
		r := rand.New(rand.NewPCG(3, 1))
		for range times {
			ms := firstMs + r.Int64N(lastMs-firstMs-day)
			_, offset := time.UnixMilli(ms).In(loc).Zone()
			local := ms + int64(offset)*1000
			got, how := z.Instant(local)
			again, how2 := cursor.Instant(local)
			require.Equal(t, got, again)
			require.Equal(t, how, how2)
			require.NotEqual(t, Never, how)
			if how == Once {
				require.Equal(t, ms, got, "%s %d", name, ms)
			} else {
				require.LessOrEqual(t, got, ms)
			}
			require.EqualValues(t, offset*1000, z.Offset(ms))
		}
	}
}

// A cursor that comes from either side of a clock change does not carry its
// offset across.
func TestCursorAtChanges(t *testing.T) {
	for _, name := range []string{"Europe/Dublin", "Australia/Lord_Howe"} {
		z, err := loadZone(name)
		require.NoError(t, err)
		changes, _ := z.Changes(at(2024, 1, 1, 0, 0, 0), at(2026, 1, 1, 0, 0, 0))
		require.Len(t, changes, 4)
		for _, change := range changes {
			for _, step := range []int64{7 * 60_000, -7 * 60_000} {
				c := z.Cursor()
				for n := int64(-200); n < 200; n++ {
					local := change + z.Offset(change) + n*step
					want, how := z.Instant(local)
					got, how2 := c.Instant(local)
					require.Equal(t, want, got)
					require.Equal(t, how, how2)
				}
			}
		}
	}
}

func TestChangesAndFormat(t *testing.T) {
	z, err := loadZone("Europe/Dublin")
	require.NoError(t, err)
	when, by := z.Changes(at(2025, 1, 1, 0, 0, 0), at(2026, 1, 1, 0, 0, 0))
	assert.Equal(t, []int64{at(2025, 3, 30, 1, 0, 0), at(2025, 10, 26, 1, 0, 0)}, when)
	assert.Equal(t, []int64{3600_000, -3600_000}, by)
	assert.Equal(t, "2025-03-30 02:00:00+01:00", z.Format(when[0]))
	assert.Equal(t, "2025-03-30 01:00:00Z", UTC.Format(when[0]))
}

// someTimes are written in every layout.
var someTimes = []string{"2025-05-03 04:05:06", "3/5/2025 4:05 PM", "45780.5", "1746245106", "3-May-2025", "2025-05-03T04:05:06.5+01:00", "2025-05-03 04:05:06 -0130", "13/1/25 PM 04:05", "3 May 2025 04:05", "5.3.2025  04:05:06.5 Z", "Sat 3 May, 2025 at 4:05 p. m.", "2025年5月3日 午後4時05分", "3. lis 2025. 04:05 CET", "2025-03-30 01:30", "26.10.2025 01:30:00", ""}

func FuzzTime(f *testing.F) { pieces.Fuzz(f, sameTime, someTimes...) }

func TestComposedTimes(t *testing.T) { pieces.Texts(t, 1000, sameTime, someTimes...) }

var dublin = func() *Zone {
	z, err := loadZone("Europe/Dublin")
	if err != nil {
		panic(err)
	}
	return z
}()

// sameTime reads a text in every layout, the fast way and the slow one.
func sameTime(t *testing.T, s string) {
	for _, l := range []Layout{{}, {Kind: Calendar, Order: DayFirst}, {Kind: Calendar, Order: MonthFirst}, {Kind: Serial}, {Kind: Epoch}, {Years: ShortLast}, {Years: ShortFirst}} {
		// Then its day is remembered, for other times of it.
		var d Dates
		c := dublin.Cursor()
		for _, x := range []string{s, s, s[:min(len(s), 11)] + "12:34:56", s[:min(len(s), 11)] + "01:23"} {
			r, fault := d.Parse(l, []byte(x))
			if slow, slowFault := l.parse([]byte(x)); r != slow || fault != slowFault {
				t.Fatalf("%q after %q: %v %v the fast way, %v %v the slow one", x, s, r, fault, slow, slowFault)
			}
			want, wantHow := r.Ms, Once
			if fault == OK && !r.Absolute {
				want, wantHow = dublin.Instant(r.Ms)
			}
			if ms, how, again := c.Read(l, []byte(x)); ms != want || how != wantHow || again != fault {
				t.Fatalf("%q after %q: %v %v %v with a cursor, not %v %v", x, s, ms, how, again, want, wantHow)
			}
		}
		r, fault := l.Parse([]byte(s))
		if fault != OK {
			if r != (Reading{}) {
				t.Fatalf("%q: %v with a reading", s, fault)
			}
			continue
		}
		if r.Ms < firstMs-16*3600_000 || r.Ms > lastMs+16*3600_000 {
			t.Fatalf("%q reads as %d", s, r.Ms)
		}
		// What is read in the plain layout reads the same again.
		again, fault := Layout{}.Parse([]byte(time.UnixMilli(r.Ms).UTC().Format("2006-01-02T15:04:05.000")))
		if fault != OK || again.Ms != r.Ms {
			t.Fatalf("%q: %d, again %d %v", s, r.Ms, again.Ms, fault)
		}
	}
	var v Survey
	v.Add([]byte(s), 1)
	_, _, _ = v.Settle(Unsettled)
}

func BenchmarkParse(b *testing.B) {
	value := []byte("2025-05-03 04:05:06")
	z, _ := loadZone("Europe/Dublin")
	c := z.Cursor()
	for b.Loop() {
		r, fault := Layout{Kind: Calendar}.Parse(value)
		if fault != OK {
			b.Fatal(fault)
		}
		c.Instant(r.Ms)
	}
}

// The fast way through a time of day reads and refuses what the slow one does.
func TestTimesOfDay(t *testing.T) {
	l := Layout{Order: DayFirst}
	slow := func(b []byte) (Reading, Fault) { return l.parse(b) }
	var d Dates
	c := UTC.Cursor()
	check := func(text string) {
		b := []byte(text)
		want, fault := slow(b)
		got, gotFault := d.Parse(l, b)
		if got != want || gotFault != fault {
			t.Fatalf("%q: %v %v, not %v %v", text, got, gotFault, want, fault)
		}
		if ms, how, gotFault := c.Read(l, b); gotFault != fault || fault == OK && (ms != want.Ms || how != Once) {
			t.Fatalf("%q: %v %v %v, not %v", text, ms, how, gotFault, want)
		}
	}
	step := 1
	if testing.Short() {
		step = 7
	}
	for s := 0; s < 86_400; s += step {
		check(fmt.Sprintf("2025-05-03 %02d:%02d:%02d", s/3600, s/60%60, s%60))
	}
	for m := range 1440 {
		check(fmt.Sprintf("2025-05-03T%02d:%02d", m/60, m%60))
	}
	for h := -20; h <= 20; h++ {
		for m := range 70 {
			check(fmt.Sprintf("2025-05-03T04:05:06%+03d:%02d", h, m))
			check(fmt.Sprintf("2025-05-03 04:05:06.789 %+03d%02d", h, m))
		}
	}
	for _, text := range []string{"1950-01-01T00:30:00+01:00", "1950-01-01T01:30:00+01:00", "2099-12-31T23:30:00-01:00", "2099-12-31T22:30:00-01:00", "2025-05-03 04:05:06.", "2025-05-03 04:05:06.Z"} {
		check(text)
		check(text)
	}
	for _, text := range []string{
		"2025-05-03 04:05:06", "2025-05-03T04:05:06Z", "2025-05-03 04:05", "03/05/2025 04:05:06", " 3 May 2025 04:05",
		"2025-05-03T04:05:06+01:00", "2025-05-03 04:05:06+01", "2025-05-03 04:05:06 +0100", "2025-05-03T04:05:06.78901-12:30", "03/05/2025 04:05:06.7Z",
	} {
		for i := range text {
			for x := range 256 {
				b := []byte(text)
				b[i] = byte(x)
				check(string(b))
			}
		}
	}
}

// What is remembered of a date holds for the layout it was read in.
func TestDatesOfTwoLayouts(t *testing.T) {
	const text = "03/05/2025 04:05:06"
	var d Dates
	for _, order := range []Order{DayFirst, MonthFirst, DayFirst, Unsettled} {
		l := Layout{Order: order}
		want, fault := l.parse([]byte(text))
		got, gotFault := d.Parse(l, []byte(text))
		if got != want || gotFault != fault {
			t.Fatalf("%v: %v %v, not %v %v", order, got, gotFault, want, fault)
		}
	}
}
