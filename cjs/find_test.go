package cjs

import (
	"context"
	"encoding/json"
	"fmt"
	"runtime"
	"slices"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// unlikeCohorts are n cohorts of 400 fish on five reaches, of which none dies in
// every other one.
func unlikeCohorts(n int) *history.Histories {
	h := &history.Histories{}
	for c := range n {
		one := strewn(uint64(c), 5, 400, func(k int) float64 { return []float64{0.8, 1}[(c+k)%2] }, func(int) float64 { return 0.5 })
		h.River = one.River
		h.Cohorts = append(h.Cohorts, fmt.Sprint("week ", c+1))
		h.Entry, h.Seen, h.End, h.Count = append(h.Entry, one.Entry...), append(h.Seen, one.Seen...), append(h.End, one.End...), append(h.Count, one.Count...)
		h.Cohort = append(h.Cohort, slices.Repeat([]int32{int32(c)}, len(one.Seen))...)
	}
	return h
}

// A fit with profile intervals has the same bytes on any number of cores: of
// cohorts that share nothing and that share detection, of few fish, of which some
// differ in length, and with tags lost.
func TestIntervalsDoNotDependOnCores(t *testing.T) {
	long := strewn(5, 2, 60, func(int) float64 { return 0.8 }, func(int) float64 { return 0.6 })
	ones := &history.Histories{River: long.River, Cohorts: long.Cohorts}
	for i, n := range long.Count {
		for range n {
			ones.Entry, ones.Seen, ones.End, ones.Cohort = append(ones.Entry, 0), append(ones.Seen, long.Seen[i]), append(ones.End, long.End[i]), append(ones.Cohort, 0)
		}
	}
	length := make([]float64, len(ones.Seen))
	for i := range length {
		length[i] = 100 + float64(i*37%50)
	}
	ones.Columns = []history.Column{{Name: "length", Value: length}}
	lost := Options{Interval: "profile"}
	lost.Retention.Held, lost.Retention.Kept = 50, 46
	for name, c := range map[string]struct {
		fish *history.Histories
		spec model.Spec
		opt  Options
	}{
		"nothing shared":   {unlikeCohorts(8), model.Spec{Survival: "reach by cohort", Detection: "site by cohort"}, Options{Interval: "profile"}},
		"detection shared": {unlikeCohorts(10), model.Spec{Survival: "reach by cohort", Detection: "site"}, Options{}},
		"few fish":         {strewn(3, 4, 40, func(int) float64 { return 0.7 }, func(int) float64 { return 0.4 }), model.Spec{Survival: "reach", Detection: "site"}, lost},
		"lengths":          {ones, model.Spec{Survival: "reach + length", Detection: "site"}, Options{Interval: "profile"}},
	} {
		t.Run(name, func(t *testing.T) {
			if testing.Short() && name != "few fish" {
				t.Skip("long")
			}
			p, err := model.Build(model.Input{Histories: c.fish}, c.spec)
			require.NoError(t, err)
			on := func(cores int) string {
				defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
				f, err := New(context.Background(), p, c.opt)
				require.NoError(t, err)
				require.True(t, slices.ContainsFunc(f.Passed, func(r Passed) bool {
					return r.PassedShare.Method == "profile" && r.PassedShare.Low < r.PassedShare.High
				}))
				b, err := json.Marshal(f)
				require.NoError(t, err)
				return string(b)
			}
			one := on(1)
			assert.Equal(t, one, on(2))
			assert.Equal(t, one, on(4))
		})
	}
}

// Of several points that beat a fit the first counts, in the order in which the
// intervals were asked for, on any number of cores.
func TestFirstAccusationCounts(t *testing.T) {
	p, err := model.Build(model.Input{Histories: alikeCohorts(3)}, model.Spec{Survival: "reach by cohort", Detection: "site"})
	require.NoError(t, err)
	top, err := New(context.Background(), p, Options{EstimatesOnly: true})
	require.NoError(t, err)
	find := func(classes ...int) []float64 {
		f := *top
		notes := *top.machine
		f.machine, notes.profiled, notes.peak = &notes, map[string]*pending{}, nil
		f.X = slices.Clone(top.X)
		for i := range f.X {
			f.X[i] += 0.05
		}
		var at likelihood.Point
		f.free().Eval(f.X, 0, &at)
		f.LogLikelihood = at.F
		for _, g := range classes {
			q := f.slot(g, likelihood.Factor{Slot: p.Layout.Survival(1)})
			f.ask(&q, Estimate{Value: 0.8})
		}
		require.NoError(t, f.find(context.Background()))
		require.NotNil(t, f.accused)
		return f.accused
	}
	first := find(2)
	require.NotEqual(t, first, find(0))
	for _, cores := range []int{1, 4} {
		before := runtime.GOMAXPROCS(cores)
		assert.Equal(t, first, find(2, 0, 1))
		runtime.GOMAXPROCS(before)
	}
}

// ending is a context that ends when it was asked so often.
type ending struct {
	context.Context
	left *atomic.Int64
}

func (e ending) Err() error {
	if e.left.Add(-1) < 0 {
		return context.Canceled
	}
	return nil
}

// Wherever the context ends, in the climbs or while intervals are found, there is
// no fit; each step asks it.
func TestFitEndsWithItsContext(t *testing.T) {
	p, err := model.Build(model.Input{Histories: unlikeCohorts(8)}, model.Spec{Survival: "reach by cohort", Detection: "site by cohort"})
	require.NoError(t, err)
	asked := func(most int64) (times int64, err error) {
		var left atomic.Int64
		left.Store(most)
		f, err := New(ending{context.Background(), &left}, p, Options{Interval: "profile"})
		assert.Equal(t, err != nil, f == nil)
		return most - left.Load(), err
	}
	all, err := asked(1 << 40)
	require.NoError(t, err)
	require.Greater(t, all, int64(1000)) // some 150 of them in climbs
	for k := range int64(10) {
		if testing.Short() && k != 5 {
			continue
		}
		times, err := asked(all * k / 10)
		assert.ErrorIs(t, err, context.Canceled)
		// The first that is told so ends it, but for those at work on other cores.
		assert.LessOrEqual(t, times, all*k/10+int64(4*runtime.GOMAXPROCS(0)))
	}
}
