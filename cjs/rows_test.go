package cjs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// TestRowsWhileBothWorked: of seven fish four are known to have passed while both
// rows worked, one of each kind. The lower row stood still on days 5 and 6; a fish
// last seen above before, and below after it, may have passed meanwhile, also one
// that the upper row saw.
func TestRowsWhileBothWorked(t *testing.T) {
	const day = int64(24 * 60 * 60 * 1000)
	at := func(d int64) time.Time { return time.UnixMilli(d * day) }
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{
		{Name: "Mill Lade", Km: 20}, {Name: "Scar Weir", Km: 10, Rows: []string{"upper", "lower"}}, {Name: "Tidehead", Km: 0}}}}
	no := int64(history.NoTime)
	add := func(released, upper, lower, tidehead int64) {
		var seen uint64
		for b, d := range []int64{upper, lower, tidehead} {
			ms := no
			if d > 0 {
				seen, ms = seen|1<<b, d*day
			}
			h.First, h.Last = append(h.First, ms), append(h.Last, ms)
		}
		h.Entry, h.Seen, h.End, h.Cohort = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open), append(h.Cohort, 0)
		h.Released = append(h.Released, released*day)
	}
	add(0, 3, 3, 4)  // both
	add(0, 6, 0, 8)  // in the outage
	add(0, 0, 0, 4)  // neither
	add(0, 0, 0, 9)  // not known when
	add(8, 9, 0, 10) // upper
	add(8, 0, 9, 10) // lower
	add(0, 3, 3, 0)  // not seen below
	working := [][]study.Window{nil, {{To: at(5)}, {From: at(7)}}, nil}
	spec := model.Spec{Survival: "reach", Detection: "row"}
	p, err := model.Build(model.Input{Histories: h, Working: working}, spec)
	require.NoError(t, err)
	require.True(t, p.Windowed())
	r := rowTests(p)
	require.Len(t, r, 1)
	assert.Equal(t, []int{1, 1, 1, 1}, []int{r[0].Both, r[0].OnlyA, r[0].OnlyB, r[0].Neither})
	assert.InDelta(t, 1, r[0].P, 1e-12)

	// All the time: as many as were seen below.
	p, err = model.Build(model.Input{Histories: h}, spec)
	require.NoError(t, err)
	r = rowTests(p)
	assert.Equal(t, []int{1, 2, 1, 2}, []int{r[0].Both, r[0].OnlyA, r[0].OnlyB, r[0].Neither})
}
