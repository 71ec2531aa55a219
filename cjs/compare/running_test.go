package compare_test

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// migrants are fish that drift at 6 km/day past sites 40, 75 and 110 km below
// the release: 80 % survive each reach, half of the passers are seen. Times are
// of the first-passage law only roughly (normal around the mean), which is
// enough to compare models on. Released evenly over 20 days, read on day asOf.
func migrants(asOf float64) model.Input {
	rnd := rand.New(rand.NewPCG(5, 6))
	start := time.Date(2025, 4, 1, 0, 0, 0, 0, time.UTC)
	at := func(day float64) int64 { return start.UnixMilli() + int64(day*24*3600*1000) }
	h := &history.Histories{River: history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 0}, {Name: "Alder Ford", Km: 40}, {Name: "Scar Weir", Km: 75}, {Name: "Tidehead", Km: 110}}},
		Cohorts: []string{"all"}}
	for i := range 800 {
		day := float64(i / 40)
		if day > asOf {
			break
		}
		var seen uint64
		first := []int64{history.NoTime, history.NoTime, history.NoTime}
		when := day
		for k := range 3 {
			if rnd.Float64() > 0.8 {
				break
			}
			km := 40.0
			if k > 0 {
				km = 35
			}
			when += max(0.5, km/6*(1+0.3*rnd.NormFloat64()))
			if when > asOf {
				break
			}
			if rnd.Float64() < 0.5 {
				seen |= 1 << k
				first[k] = at(when)
			}
		}
		h.Entry = append(h.Entry, 0)
		h.Seen = append(h.Seen, seen)
		h.End = append(h.End, history.Open)
		h.Cohort = append(h.Cohort, 0)
		h.Released = append(h.Released, at(day))
		h.First = append(h.First, first...)
		h.Last = append(h.Last, first...)
	}
	return model.Input{Histories: h, AsOf: time.UnixMilli(at(asOf))}
}

// Every variant has the times among its data, so their likelihoods are of the
// same; a rest is a model of its own though its terms are those of none.
func TestVariantsOfARunningSeason(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := migrants(45)
	specs := compare.Grid(map[model.Part][]string{model.Survival: {"reach"}, model.Detection: {"same"}, model.Drift: {"same", "release_day"}}, model.Spec{})
	specs = append(specs, model.Spec{Survival: "reach", Detection: "same", Rest: "same"})
	require.Len(t, specs, 3)
	r, err := compare.Run(context.Background(), in, append(specs, specs[0]), cjs.Options{}, nil)
	require.NoError(t, err)
	twice := 0
	for _, v := range r.Variants {
		if v.Err != nil {
			assert.ErrorContains(t, v.Err, "the same model")
			twice++
			continue
		}
		assert.True(t, v.Fit.Problem.Running(), v.Name())
	}
	assert.Equal(t, 1, twice)
	var drift float64
	for _, x := range r.Importance {
		if x.Part == model.Drift && x.Name == model.ReleaseDay {
			drift = x.Weight
		}
	}
	assert.Greater(t, drift, 0.0)
	last := r.Averaged.Passed[len(r.Averaged.Passed)-1]
	assert.InDelta(t, last.PassedShare.Value, last.SoFar.Value+last.StillToPass.Value, 1e-9, "averages of a sum add up")
	assert.Greater(t, last.StillToPass.Value, 0.0)

	find := func(name string) *compare.Variant {
		v, err := r.Find(name)
		require.NoError(t, err)
		return v
	}
	plain := find("survival: reach · detection: same · drift: same · spread: same")
	wider := find("survival: reach · detection: same · drift: release_day · spread: same")
	test, err := compare.Against(plain, wider)
	require.NoError(t, err)
	assert.Equal(t, 1, test.DF)
	// No share that rests is the edge of a model with rest, where the ratio's law is another.
	_, err = compare.Against(plain, find("survival: reach · detection: same · drift: same · spread: same · rest: same"))
	assert.ErrorContains(t, err, "not a special case")
	in.AsOf = time.Time{}
	over, err := compare.Run(context.Background(), in, specs[:1], cjs.Options{}, nil)
	require.NoError(t, err)
	_, err = compare.Against(over.Variants[0], wider)
	assert.ErrorContains(t, err, "not a special case", "with and without times")
}
