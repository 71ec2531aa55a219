package cjs_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Of 100 unknown 40 are expected, se 5, beside 200 known: a share of .4 whose
// logit has standard error .05/.24.
func TestFishIntervalByHand(t *testing.T) {
	low, high, method := cjs.FishInterval(200, 100, 40, 5, 2)
	assert.InDelta(t, 200+100/(1+math.Exp(-math.Log(0.4/0.6)+2*0.05/0.24)), low, 1e-9)
	assert.InDelta(t, 200+100/(1+math.Exp(-math.Log(0.4/0.6)-2*0.05/0.24)), high, 1e-9)
	assert.Equal(t, "logit", method)
	low, high, method = cjs.FishInterval(200, 0, 0, 0, 2)
	assert.Equal(t, [2]float64{200, 200}, [2]float64{low, high})
	assert.Equal(t, "counted", method)
	low, high, method = cjs.FishInterval(200, 100, 100, 0, 2)
	assert.True(t, math.IsNaN(low) && math.IsNaN(high) && method == "", "all of them: no interval on this scale")
}

// Of 1,000 fish with survival .8 and detection .5 at each site, 100 of the 400
// seen at B are taken out there. Passed % does not know of that: .64 at C. The
// realised share does: 300 of those seen and 400 of those not passed B on their
// way, of which .8 reached C, 560 of 1,000; half of these were seen there.
func TestRealisedShareByHand(t *testing.T) {
	h := counted(3, map[string]int{"111": 120, "110": 180, "101": 160, "100": 440})
	h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, 1), append(h.End, history.Removed)
	h.Count, h.Cohort = append(h.Count, 100), append(h.Cohort, 0)
	holds := []model.Hold{{Reach: 0, Row: -1, Value: 0.8}, {Reach: 1, Row: -1, Value: 0.8}, {Reach: -1, Row: 0, Value: 0.5}, {Reach: -1, Row: 1, Value: 0.5}}
	f := mustFit(t, model.Input{Histories: h, Holds: holds}, model.Spec{}, cjs.Options{})
	row := f.Passed[1]
	require.Equal(t, [3]int{1000, 100, 280}, [3]int{row.Released, row.Removed, row.KnownPassed})
	assert.InDelta(t, 0.64, row.PassedShare.Value, 1e-12)
	// Of the 180 last seen at B .8·.5/(1 − .8·.5) = 2/3 passed C unseen; of the
	// 440 never seen .8·.5·.8·.5/(1 − .8 + .8·.5·(1 − .8·.5)) = .16/.44.
	want := 280 + 180*2.0/3 + 440*0.16/0.44
	require.InDelta(t, 560, want, 1e-9)
	assert.InDelta(t, want, row.PassedFish.Value, 1e-9)
	assert.InDelta(t, 0.56, row.PassedFishShare.Value, 1e-12)
	// With everything held only the chance of each fish is left.
	se := math.Sqrt(180*(2.0/3)*(1.0/3) + 440*(4.0/11)*(7.0/11))
	assert.InDelta(t, se/1000, row.PassedFishShare.SE, 1e-12)
	// On the logit of the share of the 620 that are not known to have passed.
	share := (want - 280) / 620
	half := 1.959963984540054 * (se / 620) / (share * (1 - share))
	limit := func(x float64) float64 { return (280 + 620/(1+math.Exp(-math.Log(share/(1-share))-x))) / 1000 }
	assert.InDelta(t, limit(-half), row.PassedFishShare.Low, 1e-9)
	assert.InDelta(t, limit(half), row.PassedFishShare.High, 1e-9)
	assert.Equal(t, row.PassedFish.Status, row.PassedFishShare.Status)
}

// apart are two cohorts of 200 fish past two sites: 60 of the early are seen at
// the first, and so many of the late that a survival shared with the early may
// lie below.
func apart(late int) model.Input {
	h := &history.Histories{Cohorts: []string{"early", "late"}, River: history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Tidehead"}}}}
	add := func(cohort int32, seen uint64, n int) {
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open)
		h.Cohort, h.Count = append(h.Cohort, cohort), append(h.Count, int32(n))
	}
	for c, seen := range []int{60, late} {
		add(int32(c), 0b11, seen/2)
		add(int32(c), 0b01, seen-seen/2)
		add(int32(c), 0b10, 5)
		add(int32(c), 0b00, 195-seen)
	}
	return model.Input{Histories: h}
}

func belowSeen(f *cjs.Fit) *cjs.Warning {
	if i := slices.IndexFunc(f.Warnings, func(w cjs.Warning) bool { return w.ID == cjs.WarnPassedBelowSeen }); i >= 0 {
		return &f.Warnings[i]
	}
	return nil
}

// TestPassedBelowSeen: a survival that cohorts share says of one of them less
// than was seen of it: warned, and passed % is not floored, while the realised
// share is. With a value for each cohort, or cohorts that are alike, no warning.
func TestPassedBelowSeen(t *testing.T) {
	shared := model.Spec{Survival: "reach", Detection: "site"}
	f := mustFit(t, apart(160), shared, cjs.Options{})
	w := belowSeen(f)
	require.NotNil(t, w)
	i := slices.IndexFunc(f.Passed, func(p cjs.Passed) bool { return p.Site == 1 && len(p.Of) == 1 && p.Of[0].Level == "late" })
	row := f.Passed[i]
	require.InDelta(t, 0.8, row.SeenShare.Value, 1e-12)
	assert.Less(t, row.PassedShare.High, 0.8)
	assert.GreaterOrEqual(t, row.PassedFishShare.Low, 165.0/200)
	assert.Contains(t, w.Message, "Alder Ford for cohort late (seen 80.0 %, passed ")
	assert.NotContains(t, w.Message, "early")

	assert.Nil(t, belowSeen(mustFit(t, apart(160), model.Spec{Survival: "reach by cohort", Detection: "site"}, cjs.Options{})))
	assert.Nil(t, belowSeen(mustFit(t, apart(70), shared, cjs.Options{})))

	// What the study holds has no interval: the value itself is compared.
	held := apart(160)
	held.Holds = []model.Hold{{Reach: 0, Row: -1, Value: 0.5}}
	w = belowSeen(mustFit(t, held, model.Spec{Survival: "reach", Detection: "site"}, cjs.Options{}))
	require.NotNil(t, w)
	assert.Contains(t, w.Message, "passed 50.0 %)")
}
