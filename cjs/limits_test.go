package cjs

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// At the end of a profile interval the best fit with the quantity fixed there lies
// as far below the maximum as the level says, beside survivals at 1 too, some of
// which the way to the end lets go. That fit is another search from all starts,
// which knows nothing of profiles.
func TestEndsAreWhereTheFixedFitSays(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	bounds := 0
	for _, seed := range []uint64{1, 5} {
		h := strewn(seed, 8, 1000, func(k int) float64 { return 1 - 0.25*float64(k%2) }, func(k int) float64 { return 0.35 + 0.03*float64((3+k)%12) })
		p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach", Detection: "site"})
		require.NoError(t, err)
		f, err := New(context.Background(), p, Options{Interval: "profile"})
		require.NoError(t, err)
		starts := append([][]float64{maximum.StartValues(p)}, maximum.OtherStarts(p)...)
		check := func(a int, v float64) {
			if math.IsNaN(v) || v == 0 || v == 1 {
				return
			}
			links := [][]likelihood.Link{append([]likelihood.Link(nil), p.Design.Links[0]...)}
			links[0][a] = likelihood.Link{Kind: likelihood.Fixed, Value: v}
			fixed := *p
			fixed.Design = p.Design.WithLinks(links)
			best, err := maximum.Best(context.Background(), &fixed, p.Data, starts)
			require.NoError(t, err)
			// 2e-6: an end is good to 1e-6.
			assert.InDelta(t, f.need(), best.Climb.P.F, 2e-6, "seed %d, slot %d at %v", seed, a, v)
		}
		for k, s := range f.Survival {
			check(p.Layout.Survival(k), s.Low)
			check(p.Layout.Survival(k), s.High)
			if s.Status == Boundary {
				bounds++
			}
		}
		for k, d := range f.Detection {
			check(p.Layout.Detection(k), d.Low)
			check(p.Layout.Detection(k), d.High)
		}
	}
	assert.Greater(t, bounds, 3)
}
