package cjs_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood/passtime"
)

// Detection at B and C of the small season, held in every fit of it.
const (
	seenB = 0.7
	seenC = 0.8
)

// smallSeason is fish released at A, half of them at once and half two days
// later, that survive to B (20 km down) with 0.8 and on to C (50 km down) with
// 0.6, read on day asOf. Steps of travel are drawn as sums of many small ones.
func smallSeason(fish int, asOf float64) model.Input {
	rnd := rand.New(rand.NewPCG(11, 12))
	start := time.Date(2025, 4, 1, 0, 0, 0, 0, time.UTC)
	at := func(day float64) int64 { return start.UnixMilli() + int64(day*24*3600*1000) }
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A", Km: 50}, {Name: "B", Km: 30}, {Name: "C", Km: 0}}}}
	for i := range fish {
		released := float64(i % 2 * 2)
		if released > asOf {
			continue
		}
		seen, first := uint64(0), []int64{history.NoTime, history.NoTime}
		when := released
		for k, one := range []struct{ km, survival, detection float64 }{{20, 0.8, seenB}, {30, 0.6, seenC}} {
			if rnd.Float64() >= one.survival {
				break
			}
			for km := 0.0; km < one.km; {
				when += 0.01
				km += 0.01*8 + 0.1*9*rnd.NormFloat64()
			}
			if when > asOf {
				break
			}
			if rnd.Float64() < one.detection {
				seen |= 1 << k
				first[k] = at(when)
			}
		}
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open)
		h.Cohort, h.Released = append(h.Cohort, 0), append(h.Released, at(released))
		h.First = append(h.First, first...)
	}
	h.Last = h.First
	return model.Input{Histories: h, AsOf: time.UnixMilli(at(asOf)),
		Holds: []model.Hold{{Reach: -1, Row: 0, Value: seenB}, {Reach: -1, Row: 1, Value: seenC}}}
}

// season are the parameters of the small season, from the coefficients: two
// survivals on the logit, drift and spread on the log scale.
type seasonAt struct{ s, t, drift, spread float64 }

func seasonOf(x []float64) seasonAt {
	expit := func(v float64) float64 { return 1 / (1 + math.Exp(-v)) }
	return seasonAt{expit(x[0]), expit(x[1]), math.Exp(x[2]), math.Exp(x[3])}
}

// come is the chance that a migrant has gone km within days.
func (a seasonAt) come(km, days float64) float64 {
	return passtime.Law{Km: km, Drift: a.drift, Spread: a.spread}.CDF(days)
}

// gradientOf is by central differences.
func gradientOf(x []float64, of func(x []float64) float64) []float64 {
	const step = 1e-5
	g := make([]float64, len(x))
	for j := range x {
		y := append([]float64(nil), x...)
		y[j] += step
		up := of(y)
		y[j] -= 2 * step
		g[j] = (up - of(y)) / (2 * step)
	}
	return g
}

// spreadOf is √(gᵀCg).
func spreadOf(f *cjs.Fit, of func(x []float64) float64) float64 {
	g := gradientOf(f.X, of)
	var v float64
	for i, a := range g {
		for j, b := range g {
			v += a * f.Covariance[i*len(g)+j] * b
		}
	}
	return math.Sqrt(v)
}

// TestRunningSeasonByHand: so far a fish has passed B when it survived and was
// fast enough, S·F(20 km), and C likewise, S·T·F(50 km); what is still to come
// is the rest of S and S·T. A fish not seen since its release, d days ago, has
// passed B unseen when it came there, was missed, and was not seen at C
// either: S q_B (F(20) − T p_C F(50)) over the chance χ to be unseen, 1 − S p_B
// F(20) − S q_B T p_C F(50). Standard errors are √(gᵀCg) with C the fit's
// covariance and g by differences.
func TestRunningSeasonByHand(t *testing.T) {
	const asOf = 9.0
	in := smallSeason(900, asOf)
	f := mustFit(t, in, model.Spec{Survival: "reach"}, cjs.Options{Interval: "logit"})
	require.Len(t, f.X, 4)
	require.Len(t, f.Passed, 2)
	a := seasonOf(f.X)
	assert.InDelta(t, a.s, f.Survival[0].Value, 1e-12)
	assert.InDelta(t, a.t, f.Survival[1].Value, 1e-12)
	days := []float64{asOf, asOf - 2} // since release, half of the fish each
	share := func(k int) func(x []float64) float64 {
		return func(x []float64) float64 {
			a := seasonOf(x)
			if k == 1 {
				return a.s
			}
			return a.s * a.t
		}
	}
	soFar := func(k int) func(x []float64) float64 {
		return func(x []float64) float64 {
			a := seasonOf(x)
			return share(k)(x) * (a.come(float64(30*k-10), days[0]) + a.come(float64(30*k-10), days[1])) / 2
		}
	}
	z := z95
	held := func(what string, got cjs.Estimate, of func(x []float64) float64) {
		v, se := of(f.X), spreadOf(f, of)
		// Differences of a step of 1e-5 are good to about 1e-9.
		assert.InDelta(t, v, got.Value, 1e-10, what)
		assert.InDelta(t, se, got.SE, 1e-7, what)
		low, high := logitLimits(v, se, z)
		assert.InDelta(t, low, got.Low, 1e-6, what)
		assert.InDelta(t, high, got.High, 1e-6, what)
	}
	for k := 1; k <= 2; k++ {
		row := f.Passed[k-1]
		require.Equal(t, cjs.Estimated, row.PassedShare.Status, "the day is late enough for a point")
		assert.InDelta(t, share(k)(f.X), row.PassedShare.Value, 1e-10)
		assert.InDelta(t, spreadOf(f, share(k)), row.PassedShare.SE, 1e-7)
		held("so far", row.SoFar, soFar(k))
		held("still to pass", row.StillToPass, func(x []float64) float64 { return share(k)(x) - soFar(k)(x) })
		assert.Greater(t, row.StillToPass.Value, 0.01, "there are fish still to come")
	}

	// The fish that are waiting: last seen at A or B, so many days ago.
	h := in.Histories
	var atA, atB []float64
	known := [3]float64{}
	end := in.AsOf.UnixMilli()
	for i := range h.Len() {
		since := func(t int64) float64 { return float64(end-t) / (24 * 3600 * 1000) }
		switch h.Seen[i] {
		case 0:
			atA = append(atA, since(h.Released[i]))
		case 1:
			known[1]++
			atB = append(atB, since(h.First[2*i]))
		default:
			known[1]++
			known[2]++
		}
	}
	unseen := func(k int, x []float64) (sum, own float64) {
		a := seasonOf(x)
		add := func(q float64) {
			sum += q
			own += q * (1 - q)
		}
		for _, d := range atA {
			b, c := a.come(20, d), a.come(50, d)
			chi := 1 - a.s*seenB*b - a.s*(1-seenB)*a.t*seenC*c
			if k == 1 {
				add(a.s * (1 - seenB) * (b - a.t*seenC*c) / chi)
			} else {
				add(a.s * (1 - seenB) * a.t * (1 - seenC) * c / chi)
			}
		}
		if k == 2 {
			for _, d := range atB {
				c := a.come(30, d)
				add(a.t * (1 - seenC) * c / (1 - a.t*seenC*c))
			}
		}
		return sum, own
	}
	for k := 1; k <= 2; k++ {
		e := f.Passed[k-1].PassedFish
		sum, own := unseen(k, f.X)
		waiting := float64(len(atA))
		if k == 2 {
			waiting += float64(len(atB))
		}
		se := math.Hypot(spreadOf(f, func(x []float64) float64 { s, _ := unseen(k, x); return s }), math.Sqrt(own))
		assert.InDelta(t, known[k]+sum, e.Value, 1e-8)
		assert.InDelta(t, se, e.SE, 1e-5)
		low, high := logitLimits(sum/waiting, se/waiting, z)
		assert.InDelta(t, known[k]+waiting*low, e.Low, 1e-4)
		assert.InDelta(t, known[k]+waiting*high, e.High, 1e-4)
	}

	// Drift and spread, on the log scale.
	require.Len(t, f.Movement, 1)
	for j, e := range []cjs.Estimate{f.Movement[0].Drift, f.Movement[0].Spread} {
		se := math.Sqrt(f.Covariance[(2+j)*4+2+j])
		assert.InDelta(t, math.Exp(f.X[2+j]), e.Value, 1e-12)
		assert.InDelta(t, e.Value*se, e.SE, 1e-12)
		assert.InDelta(t, math.Exp(f.X[2+j]-z*se), e.Low, 1e-9)
		assert.InDelta(t, math.Exp(f.X[2+j]+z*se), e.High, 1e-9)
	}
	assert.Equal(t, cjs.Absent, f.Movement[0].Rest.Status)
}

// TestTooEarlyRowByHand: on an early day what is still to pass at C is said by
// the interval of the whole less what has passed so far, which has a value.
func TestTooEarlyRowByHand(t *testing.T) {
	f := mustFit(t, smallSeason(200, 5), model.Spec{Survival: "reach"}, cjs.Options{})
	row := f.Passed[1]
	require.Equal(t, cjs.TooEarly, row.PassedShare.Status)
	assert.True(t, math.IsNaN(row.PassedShare.Value) && math.IsNaN(row.StillToPass.Value))
	a := seasonOf(f.X)
	so := a.s * a.t * (a.come(50, 5) + a.come(50, 3)) / 2
	assert.InDelta(t, so, row.SoFar.Value, 1e-10)
	assert.Equal(t, cjs.TooEarly, row.StillToPass.Status)
	assert.InDelta(t, math.Max(0, row.PassedShare.Low-so), row.StillToPass.Low, 1e-10)
	assert.InDelta(t, row.PassedShare.High-so, row.StillToPass.High, 1e-10)
}
