package history

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A day starts where the clock first shows its date. The changes are those of
// the tz database: Dublin forward and back at 01:00 UTC; São Paulo forward from
// 00:00 to 01:00, and back from 24:00 to 23:00; Havana and Amman back over
// midnight, which is shown twice; Apia left 30 December 2011 out.
func TestDayStart(t *testing.T) {
	for _, c := range []struct {
		zone             string
		year, month, day int
		want             string
	}{
		{"UTC", 2025, 5, 8, "2025-05-08T00:00:00Z"},
		{"UTC", 2025, 12, 32, "2026-01-01T00:00:00Z"},
		{"Europe/Dublin", 2025, 3, 30, "2025-03-30T00:00:00Z"},
		{"Europe/Dublin", 2025, 3, 31, "2025-03-30T23:00:00Z"},
		{"Europe/Dublin", 2025, 10, 26, "2025-10-25T23:00:00Z"},
		{"Europe/Dublin", 2025, 10, 27, "2025-10-27T00:00:00Z"},
		{"America/Sao_Paulo", 2018, 11, 4, "2018-11-04T03:00:00Z"},
		{"America/Sao_Paulo", 2019, 2, 17, "2019-02-17T03:00:00Z"},
		{"America/Havana", 2025, 11, 2, "2025-11-02T04:00:00Z"},
		{"Asia/Amman", 2021, 10, 29, "2021-10-28T21:00:00Z"},
		{"Pacific/Apia", 2011, 12, 30, "2011-12-30T10:00:00Z"},
		{"Pacific/Apia", 2011, 12, 31, "2011-12-30T10:00:00Z"},
	} {
		loc, err := time.LoadLocation(c.zone)
		require.NoError(t, err)
		got := DayStart(c.year, time.Month(c.month), c.day, loc)
		assert.Equal(t, c.want, got.UTC().Format(time.RFC3339), "%+v", c)
		assert.Equal(t, loc, got.Location())
	}
}

// Over twenty years of four zones: the moment before is of an earlier date, the
// moment itself is not.
func TestDayStartDividesDays(t *testing.T) {
	for _, zone := range []string{"Europe/Dublin", "America/Sao_Paulo", "America/Havana", "Asia/Amman"} {
		loc, err := time.LoadLocation(zone)
		require.NoError(t, err)
		for d := range 20 * 365 {
			start := DayStart(2005, 1, 1+d, loc)
			date := time.Date(2005, 1, 1+d, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
			if first, before := start.Format(time.DateOnly), start.Add(-time.Millisecond).Format(time.DateOnly); first != date || before >= date {
				t.Fatalf("%s: %s begins on %s, after %s", zone, date, first, before)
			}
		}
	}
}
