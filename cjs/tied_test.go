package cjs

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// The step component by component is that of the whole matrix, off the maximum
// and with a multiplier.
func TestSparseStepIsTheDenseOne(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 70))
	h := &history.Histories{Cohorts: []string{"week 1", "week 2", "week 3"}}
	for k := range 4 {
		h.River.Sites = append(h.River.Sites, history.Site{Name: string(rune('A' + k)), Km: math.NaN(), Days: math.NaN()})
	}
	for c := range h.Cohorts {
		for seen := range uint64(8) {
			h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open)
			h.Cohort, h.Count = append(h.Cohort, int32(c)), append(h.Count, []int32{340, 150, 80, 120, 60, 90, 50, 110}[seen]+int32(10*c))
		}
	}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach + cohort", Detection: "site"})
	require.NoError(t, err)
	f, err := New(context.Background(), p, Options{EstimatesOnly: true})
	require.NoError(t, err)
	q := &likelihood.Quantity{}
	for g := range p.Classes {
		q.Means = append(q.Means, f.slot(g, likelihood.Factor{Slot: p.Layout.Survival(0)}, likelihood.Factor{Slot: p.Layout.Survival(1)}).Means[0])
		q.Means[g].Scale = 1 / float64(len(p.Classes))
	}
	one := newTied(f.free(), q, false)
	one.byComponents = true
	for range 5 {
		x := append([]float64(nil), f.X...)
		for i := range x {
			x[i] += 0.02 * rnd.NormFloat64()
		}
		one.at(x)
		one.multiplier = 3 * rnd.NormFloat64()
		fill := func() {
			for i := range one.a {
				one.a[i] = -one.p.H[i] + one.multiplier*one.q.H[i]
			}
		}
		fill()
		a, ok := one.sparse()
		require.True(t, ok)
		fill()
		b, ok := one.dense()
		require.True(t, ok)
		require.False(t, b.raised)
		// 1e-6: the ridge of 1e-9 on matrices of condition 100 and more.
		assert.InEpsilon(t, b.gain, a.gain, 1e-6)
		assert.InEpsilon(t, b.slope, a.slope, 1e-6)
		assert.InEpsilon(t, b.curve, a.curve, 1e-6)
		assert.InDeltaSlice(t, b.still, a.still, 1e-6)
		assert.InDeltaSlice(t, b.along, a.along, 1e-6)
	}
}
