package study

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Today is a day of the study's zone: where it is 20:30 on 3 May in UTC the day
// in Tokyo is the 4th, which ends at 15:00 UTC.
func TestToday(t *testing.T) {
	now = func() time.Time { return time.Date(2025, 5, 3, 20, 30, 0, 0, time.UTC) }
	defer func() { now = time.Now }()
	const rest = "\n[fish]\nfile = \"fish.csv\"\n[sightings]\nfiles = [\"a.csv\"]\n[[site]]\nname = \"Mill Lade\"\nkm = 5\n[[site]]\nname = \"Tidehead\"\nkm = 0\n"
	s, err := Parse("study.toml", []byte("time_zone = \"Asia/Tokyo\"\nas_of = \"today\""+rest))
	require.NoError(t, err)
	assert.True(t, s.AsOf.Equal(time.Date(2025, 5, 4, 15, 0, 0, 0, time.UTC)), s.AsOf)
	_, err = Parse("study.toml", []byte("as_of = \"tomorrow\""+rest))
	assert.ErrorContains(t, err, "study.toml:1")
	assert.ErrorContains(t, err, `or "today"`)
}
