package model

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Fish released on one calendar day have one release_day, whatever the hour of
// the first release; the day is that of the zone, also across the day of 23
// hours (30 March 2025 in Dublin).
func TestReleaseDayIsACalendarDay(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	h := &history.Histories{Entry: make([]uint8, 7), Cohorts: []string{"all"}}
	for _, s := range []string{"2025-03-29 21:00", "2025-03-29 23:59", "2025-03-30 00:00", "2025-03-30 23:59", "2025-03-31 00:30", "2025-04-03 12:00"} {
		x, err := time.ParseInLocation("2006-01-02 15:04", s, dublin)
		require.NoError(t, err)
		h.Released = append(h.Released, x.UnixMilli())
	}
	h.Released = append(h.Released, history.NoTime)
	days := func(loc *time.Location) []float64 {
		v := withReleaseDay(h, Spec{Drift: "release_day"}, loc).Column(ReleaseDay).Value
		assert.True(t, math.IsNaN(v[6]))
		return v[:6]
	}
	assert.Equal(t, []float64{0, 0, 1, 1, 2, 5}, days(dublin))
	// In UTC 00:30 of summer time belongs to the day before.
	assert.Equal(t, []float64{0, 0, 1, 1, 1, 5}, days(nil))
	h.River.Sites = []history.Site{{Name: "Mill Lade"}, {Name: "Scar Weir"}, {Name: "Tidehead"}}
	h.Seen, h.End, h.Cohort = make([]uint64, 7), make([]history.End, 7), make([]int32, 7)
	p, err := Build(Input{Histories: h, Location: dublin, Missing: "drop"}, Spec{Survival: "release_day", Detection: "same"})
	require.NoError(t, err)
	assert.Equal(t, []float64{0, 0, 1, 1, 2, 5}, p.Histories.Column(ReleaseDay).Value[:6])
	in, err := FromStudy(&study.Study{Location: dublin}, h, nil, nil)
	require.NoError(t, err)
	assert.Equal(t, dublin, in.Location)
}
