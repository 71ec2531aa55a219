package clock

import (
	"testing"

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
		"3 мая 2025 20:30", "2025年5月3日 20:30", "2025年05月03日 20時30分00秒", "2025／05／03 20：30", "3\u00a0May\u00a02025 20:30",
	} {
		got, fault := Layout{Order: DayFirst}.Parse([]byte(value))
		assert.Equal(t, OK, fault, value)
		assert.Equal(t, Reading{Ms: want}, got, value)
	}
	for value, month := range map[string]int{"5 juin 2025": 6, "5 juil. 2025": 7, "5 marraskuuta 2025": 11, "5 mars 2025": 3, "5-März-2025": 3, "5 févr. 2025": 2,
		"5 paź 2025": 10, "5 août 2025": 8, "5 set 2025": 9, "5 grudnia 2025": 12, "5 ЯНВ 2025": 1, "5 lug 2025": 7} {
		got, fault := Layout{}.Parse([]byte(value))
		assert.Equal(t, OK, fault, value)
		assert.Equal(t, at(2025, month, 5, 0, 0, 0), got.Ms, value)
	}
	for value, want := range map[string]Fault{"03.05.2025 20.3": NotATime, "03.05.2025 25.30": NoSuchTime, "3 Smarch 2025": NotATime, "Reader 03.05.2025 20:30": NotATime, "May 2025": NotATime} {
		_, fault := Layout{Order: DayFirst}.Parse([]byte(value))
		assert.Equal(t, want, fault, value)
	}
}

// A year of two digits is one where only one place can be the year's.
func TestYearsOfTwoDigits(t *testing.T) {
	for _, c := range []struct {
		values []string
		want   Layout
		at     int64 // of the first value
	}{
		{[]string{"03.05.25 20:30", "14.05.25 20:30", "15.05.25"}, Layout{Calendar, DayFirst, ShortLast}, at(2025, 5, 3, 20, 30, 0)},
		{[]string{"5/13/25", "5/14/25", "6/1/25"}, Layout{Calendar, MonthFirst, ShortLast}, at(2025, 5, 13, 0, 0, 0)},
		{[]string{"25-05-03 20:30", "25-05-14 20:30"}, Layout{Calendar, Unsettled, ShortFirst}, at(2025, 5, 3, 20, 30, 0)},
		{[]string{"3-May-25", "4-May-25"}, Layout{Calendar, Unsettled, ShortLast}, at(2025, 5, 3, 0, 0, 0)},
		{[]string{"3.5.98"}, Layout{Calendar, DayFirst, ShortLast}, at(1998, 5, 3, 0, 0, 0)},
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
		assert.Equal(t, Layout{Calendar, DayFirst, ShortLast}, l, "day first leaves one place to the year")
	}
}
