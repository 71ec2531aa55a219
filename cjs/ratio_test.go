package cjs_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
)

// TestRatioAtABoundByHand: all sites see every fish, so shares are those of
// binomials. With a of n fish of the first cohort and all m of the second the ratio r
// has the profile a ln p + (n−a) ln(1−p) + m ln(rp), the best p being (a+m)/(n+m), or
// 1/r where that would lead the second share above 1.
func TestRatioAtABoundByHand(t *testing.T) {
	limits := func(a, n, m float64) (low, high float64) {
		value := func(r float64) float64 {
			p := min((a+m)/(n+m), 1/r, 1)
			v := a*math.Log(p) + m*math.Log(r*p)
			if n > a {
				v += (n - a) * math.Log(1-p)
			}
			return v
		}
		top := value(n / a)
		if n == a {
			top = 0
		}
		find := func(in, out float64) float64 {
			for range 200 {
				if mid := (in + out) / 2; value(mid) > top-z95*z95/2 {
					in = mid
				} else {
					out = mid
				}
			}
			return in
		}
		return find(n/a, 0.01), find(n/a, 100)
	}
	for _, c := range []struct{ a, n, m int }{{47, 60, 60}, {10, 60, 200}, {1, 3, 4}, {60, 60, 50}} {
		first := map[string]int{"11": c.a}
		if c.n > c.a {
			first["10"] = c.n - c.a
		}
		h := cohorts(2, []string{"first", "second"}, []map[string]int{first, {"11": c.m}})
		f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{}, cjs.Options{})
		e, err := f.Effects(t.Context())
		require.NoError(t, err)
		require.Len(t, e.Relative, 1)
		r := e.Relative[0]
		low, high := limits(float64(c.a), float64(c.n), float64(c.m))
		assert.InDelta(t, float64(c.n)/float64(c.a), r.Value, 1e-7, "%v", c)
		// The limits are found to 1e-8 of the log-likelihood.
		assert.InEpsilon(t, low, r.Low, 1e-6, "%v", c)
		assert.InEpsilon(t, high, r.High, 1e-6, "%v", c)
		assert.Equal(t, "profile", r.Method)
		assert.Equal(t, c.a == c.n, r.Status == cjs.Boundary, "%v", c)
		assert.Equal(t, c.a == c.n, math.IsNaN(r.SE), "%v", c)
	}
}

// TestRatioOfCohortsAlike: where the model has one survival for both their ratio is
// no estimate and has no interval, with and without something at its bound.
func TestRatioOfCohortsAlike(t *testing.T) {
	for _, seen := range []int{40, 100} {
		h := cohorts(2, []string{"first", "second"}, []map[string]int{{"11": seen, "10": 100 - seen}, {"11": seen, "10": 100 - seen}})
		f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{Survival: "reach"}, cjs.Options{})
		r, err := f.RelativePassed("second", "first", 1)
		require.NoError(t, err)
		assert.Equal(t, cjs.Held, r.Status)
		assert.InDelta(t, 1, r.Value, 1e-12)
		assert.True(t, math.IsNaN(r.SE) && math.IsNaN(r.Low) && math.IsNaN(r.High))
	}
}

// TestRatioOfManyCohorts: where cohorts share no coefficient the ratio of two of them
// among many is that of the two alone; where they share too many it has no limits and
// says so by its status.
func TestRatioOfManyCohorts(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	first, second := map[string]int{"11": 47, "10": 13}, map[string]int{"11": 60}
	two := mustFit(t, model.Input{Histories: cohorts(2, []string{"a", "b"}, []map[string]int{first, second}), Holds: perfect}, model.Spec{}, cjs.Options{})
	want, err := two.RelativePassed("b", "a", 1)
	require.NoError(t, err)
	names, fish := []string{"a", "b"}, []map[string]int{first, second}
	for i := range 110 {
		names = append(names, fmt.Sprintf("c%d", i))
		fish = append(fish, map[string]int{"11": 30 + i%20, "10": 25})
	}
	many := mustFit(t, model.Input{Histories: cohorts(2, names, fish), Holds: perfect}, model.Spec{}, cjs.Options{})
	r, err := many.RelativePassed("b", "a", 1)
	require.NoError(t, err)
	assert.InEpsilon(t, want.Low, r.Low, 1e-6)
	assert.InEpsilon(t, want.High, r.High, 1e-6)

	shared := mustFit(t, model.Input{Histories: cohorts(3, names, threeSites(fish))}, model.Spec{Survival: "reach + cohort", Detection: "site"}, cjs.Options{})
	r, err = shared.RelativePassed("b", "c1", 1)
	require.NoError(t, err)
	assert.Equal(t, cjs.Boundary, r.Status)
	assert.True(t, math.IsNaN(r.Value) && math.IsNaN(r.Low) && math.IsNaN(r.High))
}

// threeSites are fish of two sites of which all that reached the first were seen at
// one more, and those of the second cohort at both.
func threeSites(fish []map[string]int) (out []map[string]int) {
	for i, m := range fish {
		x := map[string]int{"111": m["11"]}
		if i != 1 {
			x["110"], x["101"], x["100"] = m["10"]/2, m["10"]/4, m["10"]/4
		}
		out = append(out, x)
	}
	return out
}
