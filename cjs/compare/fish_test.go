package compare_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// removals are 500 fish past three sites of which some were taken out at the
// first: seen there and farther down or not, by history and what became of them.
func removals() model.Input {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{
		{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Scar Weir"}, {Name: "Tidehead"}}}}
	for _, x := range []struct {
		seen  uint64
		end   history.End
		count int32
	}{{0b111, history.Open, 60}, {0b011, history.Open, 50}, {0b101, history.Open, 25}, {0b110, history.Open, 30}, {0b100, history.Open, 15},
		{0b010, history.Open, 20}, {0b001, history.Open, 90}, {0b001, history.Removed, 40}, {0, history.Open, 170}} {
		h.Entry = append(h.Entry, 0)
		h.Seen = append(h.Seen, x.seen)
		h.End = append(h.End, x.end)
		h.Cohort = append(h.Cohort, 0)
		h.Count = append(h.Count, x.count)
	}
	return model.Input{Histories: h}
}

// An average over one model is what fit says of it; and over models that say
// the same the interval of fish passed is that of each, which holds both to one
// scale and to the same fish that are not known to have passed.
func TestOneModelSaysWhatFitSays(t *testing.T) {
	ctx := context.Background()
	for name, in := range map[string]model.Input{"removals": removals(), "running": migrants(45)} {
		spec := model.Spec{Survival: "reach", Detection: "same"}
		p, err := model.Build(in, spec)
		require.NoError(t, err)
		f, err := cjs.New(ctx, p, cjs.Options{})
		require.NoError(t, err)
		one, err := compare.Run(ctx, in, []model.Spec{spec}, cjs.Options{}, nil)
		require.NoError(t, err)
		require.Len(t, one.Averaged.Passed, len(f.Passed))
		// The link of a model does not move its maximum where each reach has a
		// value of its own: two models, one answer.
		both := []model.Spec{spec, {Survival: "reach", Detection: "same", DetectionLink: "linear"}}
		two, err := compare.Run(ctx, in, both, cjs.Options{}, nil)
		require.NoError(t, err)
		require.Len(t, two.Averaged.Over, 2, name)
		for i := range f.Passed {
			want := &f.Passed[i]
			got := &one.Averaged.Passed[i]
			for _, x := range [][2]cjs.Estimate{{want.PassedShare, got.PassedShare}, {want.PassedFish, got.PassedFish}, {want.PassedFishShare, got.PassedFishShare}, {want.Detection, got.Detection}} {
				assert.Equal(t, x[0], x[1], "%s, site %d", name, want.Site)
			}
			// While the season runs a fit's limits are taken by profile likelihood, and
			// the average's by the width of these alone.
			off := 1e-3
			if name == "running" && want.PassedFish.Method == "profile" {
				off = 0.05 * (want.PassedFish.High - want.PassedFish.Low)
			} else {
				require.Equal(t, "logit", want.PassedFish.Method, name)
			}
			got = &two.Averaged.Passed[i]
			// Both searches end within 1e-9 standard errors or so of the
			// maximum; some fish are 1e-6 of a few hundred.
			for j, x := range [][2]cjs.Estimate{{want.PassedFish, got.PassedFish}, {want.PassedFishShare, got.PassedFishShare}} {
				if j == 1 {
					off /= float64(want.Released)
				}
				assert.InDelta(t, x[0].Value, x[1].Value, 1e-4, name)
				assert.InDelta(t, x[0].Low, x[1].Low, off, name)
				assert.InDelta(t, x[0].High, x[1].High, off, name)
			}
			assert.Equal(t, "logit", got.PassedFish.Method)
		}
	}
}
