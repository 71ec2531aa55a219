package cjs_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
)

// TestIdleTooLong: when the season is over and C saw none but the first fish, what
// passed B is an interval about the value that a refit has, and the same share of
// a season in which C stood still for two days has both.
func TestIdleTooLong(t *testing.T) {
	f := idleAtC(200, 1, 30, true)(t)
	e := f.Passed[0].PassedShare
	assert.Equal(t, cjs.TooEarly, e.Status)
	assert.True(t, math.IsNaN(e.Value) && math.IsNaN(e.SE))
	assert.Equal(t, "profile", e.Method)
	assert.Equal(t, []string{cjs.WarnTooEarly}, f.Passed[0].Doubts)
	fish := f.Passed[0].PassedFish
	assert.True(t, math.IsNaN(fish.Value) && math.IsNaN(fish.SE) && fish.Low < fish.High)

	refit, err := cjs.New(t.Context(), f.Problem, cjs.Options{EstimatesOnly: true})
	require.NoError(t, err)
	v := refit.Passed[0].PassedShare.Value
	assert.True(t, e.Low < v && v < e.High, "%v in %v to %v", v, e.Low, e.High)

	short := idleAtC(200, 1, 9, true)(t).Passed[0].PassedShare
	assert.Equal(t, cjs.Estimated, short.Status)
	assert.False(t, math.IsNaN(short.Value))
}

// TestOneKindOfInterval: with 20,000 fish an interval on the logit scale would do at
// B, which always worked; where C did not, B has its interval by profile too.
func TestOneKindOfInterval(t *testing.T) {
	methods := func(declared bool) (out []string) {
		f := idleAtC(5000, 1, 9, declared)(t)
		for _, p := range f.Passed {
			out = append(out, p.PassedShare.Method)
		}
		return append(out, f.Survival[0].Method)
	}
	assert.Equal(t, []string{"logit", "logit", "logit"}, methods(false))
	assert.Equal(t, []string{"profile", "profile", "profile"}, methods(true))
}
