package season_test

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
)

// 2,000 fish at 6, 3.6 and 2.4 km/day in three reaches, of which 61.4 % pass the
// last site in the end, read on day 24: one law of travel takes the slow ones for
// dead and warns; by default each reach gets a law of its own, and the interval,
// by profile likelihood while fish are to come, holds the truth.
func TestUnevenPace(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	u := unevenDesigns[1]
	u.day = 24
	for seed := range uint64(3) {
		in := unevenInput(u, 2000, 77, seed)
		fit := func(terms string) *cjs.Fit {
			p, err := model.Build(in, model.Spec{Survival: "reach", Drift: terms, Spread: terms})
			require.NoError(t, err)
			f, err := cjs.New(context.Background(), p, cjs.Options{})
			require.NoError(t, err)
			require.Equal(t, cjs.Converged, f.Verdict)
			return f
		}
		warned := func(f *cjs.Fit) bool {
			return slices.ContainsFunc(f.Warnings, func(w cjs.Warning) bool { return w.ID == cjs.WarnSpeeds })
		}
		one, own := fit("same"), fit("")
		t.Logf("one law %+v", one.Passed[2].PassedShare)
		t.Logf("by reach %+v", own.Passed[2].PassedShare)
		assert.True(t, warned(one))
		assert.Contains(t, one.Passed[2].Doubts, cjs.WarnSpeeds)
		assert.Less(t, one.Passed[2].PassedShare.High, unevenPassed)
		assert.False(t, warned(own))
		assert.Equal(t, "reach", own.Problem.Spec.Drift)
		e := own.Passed[2].PassedShare
		assert.True(t, e.Low < unevenPassed && unevenPassed < e.High, "%v", e)
		assert.Equal(t, "profile", e.Method)
		require.Len(t, own.Movement, 3)
		for i, m := range own.Movement {
			assert.InDelta(t, u.drifts[i], m.Drift.Value, 3.5*m.Drift.SE)
			assert.InDelta(t, u.spreads[i], m.Spread.Value, 3.5*m.Spread.SE)
		}
		assert.Greater(t, own.LogLikelihood, one.LogLikelihood+10)
	}
}
