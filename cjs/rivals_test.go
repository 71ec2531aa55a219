package cjs

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// A search from another hill ends at a limit only where it is back at it: with the
// quantity where it should be, every probability as it is there, and next to
// nothing to gain.
func TestSearchEndsOnlyAtHome(t *testing.T) {
	ctx := context.Background()
	h := strewn(1, 5, 60, func(k int) float64 { return 1 - 0.25*float64(k%2) }, func(int) float64 { return 0.5 })
	p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach", Detection: "site"})
	require.NoError(t, err)
	f, err := New(ctx, p, Options{Interval: "profile"})
	require.NoError(t, err)
	require.NotEmpty(t, f.limits, "something has to be at 0 or 1")
	q := f.slot(0, likelihood.Factor{Slot: p.Layout.Survival(1)})
	pr, err := f.profiler(ctx, &q)
	require.NoError(t, err)
	s, ok, err := pr.sought(ctx, pr.held, solution{x: f.X}, -1)
	require.NoError(t, err)
	require.True(t, ok)
	rivals := pr.rivals()
	require.NotEmpty(t, rivals)

	pr.tied.home = &s
	at := func(x []float64, target float64) bool {
		pr.tied.at(x)
		step, ok := pr.tied.step()
		require.True(t, ok)
		return pr.tied.atHome(&step, target-pr.tied.q.F)
	}
	assert.True(t, at(s.x, s.t))
	assert.False(t, at(s.x, s.t-0.5), "the quantity is elsewhere")
	for _, x := range rivals {
		assert.False(t, at(x, s.t), "where a rival starts")
	}
	off := append([]float64(nil), s.x...)
	for _, e := range p.Design.Slots[0][p.Layout.Detection(0)] {
		off[e.Column] += 0.1
	}
	pr.tied.at(off)
	assert.False(t, pr.tied.atHome(&tiedStep{}, 0), "one probability differs by 0.025")
}
