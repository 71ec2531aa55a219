package history

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Five fish, worked by hand: sites A (release), B (rows u, l), C, D.
func handMade() *Histories {
	return &Histories{
		River: River{Sites: []Site{{Name: "A"}, {Name: "B", Rows: []string{"u", "l"}}, {Name: "C"}, {Name: "D"}}},
		Entry: []uint8{0, 0, 0, 1, 0},
		// Rows B/u = 1, B/l = 2, C = 4, D = 8.
		Seen:    []uint64{1 | 8, 0, 2 | 4, 4, 1 | 8},
		End:     []End{Open, Open, Removed, Open, Open},
		Cohort:  []int32{0, 0, 0, 1, 0},
		Cohorts: []string{"early", "late"},
	}
}

func TestNextSeenByHand(t *testing.T) {
	got := handMade().NextSeen()
	assert.Equal(t, []NextSeen{
		{Cohort: 0, Site: 0, Released: 4, Next: []int{0, 3, 0, 0}},
		{Cohort: 0, Site: 1, Released: 3, Next: []int{0, 0, 1, 2}},
		{Cohort: 1, Site: 1, Released: 1, Next: []int{0, 0, 1, 0}},
		{Cohort: 1, Site: 2, Released: 1, Next: []int{0, 0, 0, 0}},
	}, got)
	assert.Equal(t, 1, got[0].Never())
	assert.Equal(t, 1, got[3].Never())
}

// A next-seen table given as pseudo-records comes back as it is.
func TestNextSeenOfNextSeen(t *testing.T) {
	h := &Histories{
		River:   River{Sites: []Site{{Name: "A"}, {Name: "B"}, {Name: "C"}}},
		Entry:   []uint8{0, 0, 0, 1, 1},
		Seen:    []uint64{1, 2, 0, 2, 0},
		End:     []End{Continued, Continued, Open, Continued, Open},
		Again:   []bool{false, false, false, true, true},
		Count:   []int32{10, 5, 5, 7, 3},
		Cohort:  make([]int32, 5),
		Cohorts: []string{"all"},
	}
	assert.Equal(t, []NextSeen{
		{Site: 0, Released: 20, Next: []int{0, 10, 5}},
		{Site: 1, Released: 10, Next: []int{0, 0, 7}},
	}, h.NextSeen())
}

func TestDistinct(t *testing.T) {
	assert.Equal(t, []Distinct{
		{Record: 0, Fish: 2}, // 1 1 0 . 1, twice
		{Record: 2, Fish: 1}, // 1 0 1 1, taken out there
		{Record: 1, Fish: 1}, // never seen
		{Record: 3, Fish: 1}, // the late cohort
	}, handMade().Distinct())
}
