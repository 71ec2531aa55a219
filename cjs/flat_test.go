package cjs_test

import (
	"maps"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// dividedLast are counted histories of which the last two sites are two rows of
// one.
func dividedLast(sites int, counts map[string]int) *history.Histories {
	h := counted(sites, counts)
	h.River.Sites = h.River.Sites[:sites-1]
	h.River.Sites[sites-2].Rows = []string{"up", "down"}
	return h
}

// TestNothingSeenIsNotNothingPassed: of 100 fish none was seen at C by either row.
// The likelihood is the same whatever passed, with detection 0, and whatever
// detection is, with survival 0; so it is at B where no fish was seen below A.
func TestNothingSeenIsNotNothingPassed(t *testing.T) {
	for name, seen := range map[string]map[string]int{
		"some seen at B": {"1100": 40, "1000": 60},
		"none at all":    {"1000": 100},
		"two sites":      {"100": 100},
	} {
		f := mustFit(t, model.Input{Histories: dividedLast(len(slices.Collect(maps.Keys(seen))[0]), seen)}, model.Spec{}, cjs.Options{})
		for _, s := range f.Survival {
			assert.Equal(t, cjs.Inseparable, s.Status, "%s: survival from %d", name, s.From)
		}
		for _, d := range f.Detection {
			assert.Equal(t, cjs.Inseparable, d.Status, "%s: detection at %d/%d", name, d.Site, d.Row)
		}
		for _, p := range f.Passed {
			assert.Equal(t, cjs.Inseparable, p.PassedShare.Status, "%s: passed %d", name, p.Site)
			assert.Equal(t, cjs.Inseparable, p.PassedFish.Status, "%s: fish passed %d", name, p.Site)
		}
		var ids []string
		for _, w := range f.Warnings {
			ids = append(ids, w.ID)
			if w.ID == cjs.WarnNotEstimable {
				assert.Contains(t, w.Message, "/up")
			}
		}
		assert.Contains(t, ids, cjs.WarnNotEstimable, name)
		assert.NotContains(t, ids, cjs.WarnBoundary, name)
		assert.NotContains(t, ids, cjs.WarnLimit, name)
		assert.Less(t, f.EstimableHere, f.Estimable, name)
	}
}

// TestTheBoundThatIsKnown: a test tag passed C ten times unread, so that detection
// there is 0, and nothing is known of survival. Where the closed form gives 1 survival
// is at its bound, though leaving it costs next to nothing.
func TestTheBoundThatIsKnown(t *testing.T) {
	h := counted(3, map[string]int{"110": 40, "100": 60})
	f := mustFit(t, model.Input{Histories: h, TestPasses: []model.TestPasses{{Row: 1, Passes: 10, Read: 0}}}, model.Spec{}, cjs.Options{})
	assert.Equal(t, cjs.Boundary, f.Detection[1].Status)
	assert.Equal(t, cjs.Inseparable, f.Passed[1].PassedShare.Status)

	// M_B = 20 + 20·15/15 = 40 of 40: the maximum is at 1 by itself.
	f = mustFit(t, model.Input{Histories: dividedLast(4, map[string]int{
		"1111": 5, "1110": 5, "1101": 5, "1100": 5, "1011": 5, "1010": 5, "1001": 5, "1000": 5,
	})}, model.Spec{}, cjs.Options{})
	assert.Equal(t, cjs.Boundary, f.Survival[0].Status)
	assert.InDelta(t, 1, f.Survival[0].Value, 1e-9)
}

// TestOneRowHeldAtOneIsTheSite: where one row is taken to detect all that pass, so
// does the site, whatever the other does: nothing is estimated, and no interval of
// no width is made.
func TestOneRowHeldAtOneIsTheSite(t *testing.T) {
	h := dividedLast(4, map[string]int{"1111": 20, "1110": 20, "1011": 10, "1010": 10, "1100": 20, "1000": 20})
	f := mustFit(t, model.Input{Histories: h, Holds: []model.Hold{{Reach: -1, Row: 1, Value: 1}}}, model.Spec{}, cjs.Options{})
	whole := f.Detection[3]
	assert.Equal(t, [2]int{2, -1}, [2]int{whole.Site, whole.Row})
	assert.Equal(t, cjs.Held, whole.Status)
	assert.Equal(t, 1.0, whole.Value)
	assert.True(t, math.IsNaN(whole.Low) && math.IsNaN(whole.High))
}
