package clock

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Times as people of other languages and other programs write them.
func TestOtherWaysToWriteTimes(t *testing.T) {
	want := at(2025, 5, 3, 20, 30, 0)
	for _, value := range []string{
		"03.05.2025 20.30", "3.5.2025 20.30.00", "2025-05-03 20h30", "03/05/2025 20h30m00", "2025-05-03 8:30 p.m.", "2025-05-03 8:30 p. m.",
		"2025-05-03 8:30\u202fPM", "May 3, 2025 20:30", "May 03 2025 8:30:00 PM", "Sat, 03 May 2025 20:30:00", "Sa 03.05.2025 20:30",
		"3. Mai 2025 20:30", "03-maj-2025 20:30", "3 mai 2025 20:30", "3 de mayo de 2025 20:30", "03/mag/2025 20:30", "3 toukokuuta 2025 20.30",
		"3 мая 2025 20:30", "3 мая 2025 г. 20:30", "3 мая 2025 г., 20:30", "3 травня 2025 р. 20:30", "3. 5. 2025 20:30", "3.5.2025. 20:30", "2025. 05. 03. 20:30",
		"2025 m. gegužės 3 d. 20:30", "2025. május 3. 20:30", "2025-May-03 20:30", "3. maí 2025 kl. 20.30", "03.05.2025 20:30 Uhr", "03.05.2025 um 20.30 Uhr",
		"3.5.2025 klo 20.30", "3.5.2025 godz. 20:30", "2025-05-03 20h30m00s", "2025-05-03 203000", "2025-05-03 2030", "2025-05-03 20-30-00", "2025-05-03 20:30 h",
		"2025-05-03 20:30 hrs", "2025-05-03 20:30'00", "2025-05-03 T20:30:00", "2025-05-03 '20:30:00", "2025-05-03 20:30:00:000", "2025-05-03 20:30:00.", "2025-05-03 8.30 PM",
		"2025-05-03 8:30:00p", "2025/05/03 午後08:30:00", "2025年5月3日 午後8時30分", "2025-05-03 오후 8:30", "2025年5月3日 20:30", "2025年05月03日 20時30分00秒", "2025／05／03 20：30", "3\u00a0May\u00a02025 20:30",
	} {
		got, fault := Layout{Order: DayFirst}.Parse([]byte(value))
		assert.Equal(t, OK, fault, value)
		assert.Equal(t, Reading{Ms: want}, got, value)
	}
	for value, month := range map[string]int{"5 juin 2025": 6, "5 juil. 2025": 7, "5 marraskuuta 2025": 11, "5 mars 2025": 3, "5-März-2025": 3, "5 févr. 2025": 2,
		"5 paź 2025": 10, "5 août 2025": 8, "5 set 2025": 9, "5 grudnia 2025": 12, "5 ЯНВ 2025": 1, "5 lug 2025": 7,
		"5. ledna 2025": 1, "5. února 2025": 2, "5. března 2025": 3, "5. dubna 2025": 4, "5. května 2025": 5, "5. června 2025": 6, "5. července 2025": 7,
		"5. srpna 2025": 8, "5. září 2025": 9, "5. října 2025": 10, "5. listopadu 2025": 11, "5. prosince 2025": 12, "5. ágúst 2025": 8, "5. ágú. 2025": 8, "5. júní 2025": 6,
		"5. lipnja 2025.": 6, "5. srpnja 2025.": 7, "5 lipca 2025 r.": 7, "5. júla 2025": 7, "5 березня 2025": 3, "5 червня 2025": 6, "2025. március 5.": 3,
		"2025 m. rugsėjo 5 d.": 9, "2025 m. rugpjūčio 5 d.": 8, "5. juuli 2025": 7, "5 juillet 2025": 7, "5 marrask. 2025": 11} {
		got, fault := Layout{}.Parse([]byte(value))
		assert.Equal(t, OK, fault, value)
		assert.Equal(t, at(2025, month, 5, 0, 0, 0), got.Ms, value)
	}
	for value, want := range map[string]Fault{"03.05.2025 20.3": NotATime, "03.05.2025 25.30": NoSuchTime, "3 Smarch 2025": NotATime, "Reader 03.05.2025 20:30": NotATime, "May 2025": NotATime,
		"2025-05-03 20-30": NotATime, "2025-05-03 4.25 h": NotATime, "2025-05-03 1205A": NotATime, "2025-05-03 T2030": NotATime, "2025-05-03 20:30:00:12": NotATime,
		"2025-05-03 午後13:30": NoSuchTime, "2025-05-03 午後8:30 PM": NotATime, "2025-05-03 20:30:00 CET": NotATime, "3 Dublin 2025": NotATime, "2025 x. 3": NotATime} {
		_, fault := Layout{Order: DayFirst}.Parse([]byte(value))
		assert.Equal(t, want, fault, value)
	}
}

// The half of the day before the time begins at 0, that behind it at 12.
func TestHalfDays(t *testing.T) {
	for value, hour := range map[string]int{"午前0:30": 0, "午前12:30": 0, "午後0:30": 12, "午後12:30": 12, "午前11:30": 11, "12:30a": 0, "12:30 PM": 12} {
		got, fault := Layout{}.Parse([]byte("2025-05-03 " + value))
		assert.Equal(t, OK, fault, value)
		assert.Equal(t, at(2025, 5, 3, hour, 30, 0), got.Ms, value)
	}
}

// The name of a zone is read where it can mean but one offset, beside what Go's
// time package makes of that offset.
func TestNamesOfZones(t *testing.T) {
	for value, want := range map[string]string{
		"2025-05-03 20:30:00 CEST": "2025-05-03T20:30:00+02:00", "2025-05-03 20:30 MESZ": "2025-05-03T20:30:00+02:00", "2025-07-01 20:30 EEST": "2025-07-01T20:30:00+03:00",
		"2025-03-29 20:30 CET": "2025-03-29T20:30:00+01:00", "2025-10-26 02:30 CET": "2025-10-26T02:30:00+01:00", "2025-12-01 20:30 EET": "2025-12-01T20:30:00+02:00",
	} {
		then, err := time.Parse(time.RFC3339, want)
		require.NoError(t, err)
		got, fault := Layout{}.Parse([]byte(value))
		assert.Equal(t, OK, fault, value)
		assert.Equal(t, Reading{Ms: then.UnixMilli(), Absolute: true}, got, value)
	}
	for _, value := range []string{"2025-03-30 20:30 CET", "2025-10-25 20:30 CET", "2025-05-03 20:30 IST", "2025-05-03 20:30 cest", "2025-05-03 20:30 Uhr CET"} {
		_, fault := Layout{}.Parse([]byte(value))
		assert.Equal(t, NotATime, fault, value)
	}
}

// A year of two digits is one where only one place can be the year's.
func TestYearsOfTwoDigits(t *testing.T) {
	for _, c := range []struct {
		values []string
		want   Layout
		at     int64 // of the first value
	}{
		{[]string{"03.05.25 20:30", "14.05.25 20:30", "15.05.25"}, Layout{Kind: Calendar, Order: DayFirst, Years: ShortLast}, at(2025, 5, 3, 20, 30, 0)},
		{[]string{"5/13/25", "5/14/25", "6/1/25"}, Layout{Kind: Calendar, Order: MonthFirst, Years: ShortLast}, at(2025, 5, 13, 0, 0, 0)},
		{[]string{"25-05-03 20:30", "25-05-14 20:30"}, Layout{Kind: Calendar, Order: Unsettled, Years: ShortFirst}, at(2025, 5, 3, 20, 30, 0)},
		{[]string{"3-May-25", "4-May-25"}, Layout{Kind: Calendar, Order: Unsettled, Years: ShortLast}, at(2025, 5, 3, 0, 0, 0)},
		{[]string{"3.5.98"}, Layout{Kind: Calendar, Order: DayFirst, Years: ShortLast}, at(1998, 5, 3, 0, 0, 0)},
	} {
		declared := Unsettled
		if len(c.values) == 1 {
			declared = DayFirst
		}
		l, said, err := survey(c.values...).Settle(declared)
		require.NoError(t, err, c.values)
		assert.Equal(t, c.want, l, c.values)
		assert.Contains(t, said, "years have two digits")
		got, fault := l.Parse([]byte(c.values[0]))
		assert.Equal(t, OK, fault)
		assert.Equal(t, c.at, got.Ms, c.values)
	}
	_, _, err := survey("03.05.25", "04.05.25", "05.05.25").Settle(Unsettled)
	assert.ErrorContains(t, err, "date_order")
	for _, values := range [][]string{{"03.05.25"}, {"03.05.04", "04.06.05"}} {
		_, _, err = survey(values...).Settle(Unsettled)
		assert.ErrorContains(t, err, "two digits", values)
		l, _, err := survey(values...).Settle(DayFirst)
		require.NoError(t, err)
		assert.Equal(t, Layout{Kind: Calendar, Order: DayFirst, Years: ShortLast}, l, "day first leaves one place to the year")
	}
}
