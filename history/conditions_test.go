package history

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var april = time.Date(2025, 4, 1, 0, 0, 0, 0, time.UTC)

// day is noon of day d of April, counted from 0.
func day(d float64) int64 { return april.UnixMilli() + int64((d+0.5)*86400000) }

// fishAt builds fish of one cohort each from release and sighting days; -1 is
// not seen.
func conditionsFish() *Histories {
	h := &Histories{Cohorts: []string{"early", "late"}, River: River{Sites: []Site{{Name: "A", Km: 60}, {Name: "B", Km: 40}, {Name: "C", Km: 10}, {Name: "D", Km: 0}}}}
	add := func(cohort int32, released float64, days ...float64) {
		h.Entry, h.End, h.Cohort = append(h.Entry, 0), append(h.End, Open), append(h.Cohort, cohort)
		h.Released = append(h.Released, day(released))
		var seen uint64
		for k, d := range days {
			t := int64(NoTime)
			if d >= 0 {
				seen |= 1 << k
				t = day(d)
			}
			h.First, h.Last = append(h.First, t), append(h.Last, t)
		}
		h.Seen = append(h.Seen, seen)
	}
	// Seen at C on day 5, so at B, 20 of the 50 km, on day 2, seen there or not.
	add(0, 0, -1, 5, -1)
	// Seen at B itself on day 4, but it counts with the interpolation from
	// release on day 0 to C on day 10: day 4 as well.
	add(0, 0, 4, 10, -1)
	// Seen at B only: it says nothing of B, and nothing of C.
	add(0, 0, 1, -1, -1)
	// Not seen at all.
	add(0, 0, -1, -1, -1)
	// The later cohort: seen at D on day 26, released on day 20: B after 2 of
	// 6 days, C after 5.
	add(1, 20, -1, -1, 26)
	return h
}

func flow(sites int, of func(site int, day int32) float64) *Conditions {
	c := &Conditions{Names: []string{"flow"}, Value: [][]map[int32]float64{make([]map[int32]float64, sites)}}
	for k := range sites {
		c.Zone = append(c.Zone, time.UTC)
		m := map[int32]float64{}
		for d := range int32(30) {
			m[Day(april)+d] = of(k, d)
		}
		c.Value[0][k] = m
	}
	return c
}

// TestCohortConditions works the days by hand: the condition is the day itself
// plus 100 times the site, so the mean shows the days that were used.
func TestCohortConditions(t *testing.T) {
	h := conditionsFish()
	out, err := h.CohortConditions(flow(4, func(k int, d int32) float64 { return float64(d) + 100*float64(k) }))
	require.NoError(t, err)
	c := out[0]
	assert.Equal(t, "flow", c.Name)
	// At B: days 2 and 4 of the early cohort; day 22 of the late.
	assert.Equal(t, 103.0, c.Mean[0][1])
	assert.Equal(t, 2, c.Fish[0][1])
	assert.Equal(t, 122.0, c.Mean[1][1])
	// At C nobody of the early cohort was seen farther down.
	assert.True(t, math.IsNaN(c.Mean[0][2]))
	assert.Equal(t, 225.0, c.Mean[1][2])
	// At D, the last: the late cohort's pace of 6 days for 60 km from release.
	assert.Equal(t, 326.0, c.Mean[1][3])
	// No fish of the early cohort was seen at D: no pace, no value.
	assert.True(t, math.IsNaN(c.Mean[0][3]))
	// Within: days 2 and 4 at B, nothing else varies: √(2/(5−... cells)) by hand.
	assert.InDelta(t, math.Sqrt(2.0/1), c.Within, 1e-12)
	// Between: only B has two cohorts, 103 and 122.
	assert.InDelta(t, 19/math.Sqrt2, c.Between, 1e-12)
}

func TestCohortConditionsRefuse(t *testing.T) {
	h := conditionsFish()
	c := flow(4, func(int, int32) float64 { return 1 })
	delete(c.Value[0][1], Day(april)+4)
	_, err := h.CohortConditions(c)
	assert.EqualError(t, err, `flow at B has no value for 2025-04-05, when fish of cohort "early" passed`)
	h.First, h.Last = nil, nil
	_, err = h.CohortConditions(c)
	assert.ErrorContains(t, err, "need the times")
}

// TestUntil: what was known on a day, and that nothing known is lost.
func TestUntil(t *testing.T) {
	h := conditionsFish()
	h.End[1] = Removed // at C, on day 10
	assert.Same(t, h, h.Until(day(26)+1), "nothing came later")
	assert.Equal(t, []uint64{0, 1, 1, 0, 0}, h.Until(day(5)).Seen, "a sighting at that very moment is none yet")
	u := h.Until(day(5) + 1)
	assert.Equal(t, []uint64{2, 1, 1, 0, 0}, u.Seen)
	assert.Equal(t, Open, u.End[1], "not yet taken out")
	assert.Equal(t, int64(NoTime), u.First[1*3+1])
	assert.Equal(t, day(4), u.First[1*3+0])
	assert.Equal(t, []uint64{2, 3, 1, 0, 4}, h.Seen, "the whole season is as it was")
	h.Last[1*3+0] = day(5) // seen at B from day 4 on
	assert.Less(t, h.Until(day(5)).Last[1*3+0], day(5))
	assert.NotSame(t, h, h.Until(day(26)), "the last sighting of all is at that very moment")
	p := u.Pick([]int{1, 4})
	assert.Equal(t, []uint64{1, 0}, p.Seen)
	assert.Equal(t, []int32{0, 1}, p.Cohort)
	assert.Len(t, p.First, 6)
}
