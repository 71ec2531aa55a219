package cjs_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
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

// bestWith are the coefficients of the greatest likelihood with the share passing
// the k-th site given, by a simplex over the others.
func bestWith(t *testing.T, f *cjs.Fit, k int, share float64) []float64 {
	t.Helper()
	logit := func(p float64) float64 { return math.Log(p / (1 - p)) }
	whole := func(y []float64) []float64 {
		if k == 1 {
			return []float64{logit(share), y[0], y[1], y[2]}
		}
		s := share + (1-share)/(1+math.Exp(-y[0])) // of the first reach, so that the second has one
		return []float64{logit(s), logit(share / s), y[1], y[2]}
	}
	lnL := likelihood.NewCJS(f.Problem.Design, f.Problem.Data)
	var at likelihood.Point
	p := optimize.Problem{Func: func(y []float64) float64 {
		lnL.Eval(whole(y), 0, &at)
		return -at.F
	}}
	x := []float64{f.X[1], f.X[2], f.X[3]}
	if k == 2 {
		x[0] = 0
	}
	// Twice, for a simplex may stop where it has grown flat.
	for range 2 {
		r, err := optimize.Minimize(p, x, &optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-13, Iterations: 200}}, &optimize.NelderMead{})
		require.NoError(t, err)
		x = r.X
	}
	return whole(x)
}

// TestRunningSeasonByHand: so far a fish has passed B when it survived and was
// fast enough, S·F(20 km), and C likewise, S·T·F(50 km); what is still to come
// is the rest of S and S·T. A fish not seen since its release, d days ago, has
// passed B unseen when it came there, was missed, and was not seen at C
// either: S q_B (F(20) − T p_C F(50)) over the chance χ to be unseen, 1 − S p_B
// F(20) − S q_B T p_C F(50). Standard errors are √(gᵀCg) with C the fit's
// covariance and g by differences. The interval of what will have passed is by
// profile likelihood; that of a part goes as far as the part does at its limits,
// and beside that √(1 − r²) of the part's own standard error, r its correlation
// with the whole.
func TestRunningSeasonByHand(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	const asOf = 9.0
	in := smallSeason(900, asOf)
	f := mustFit(t, in, model.Spec{Survival: "reach"}, cjs.Options{Interval: "profile"})
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
	held := func(what string, got cjs.Estimate, of, whole func(x []float64) float64, ends [2][]float64) {
		v, se := of(f.X), spreadOf(f, of)
		// Differences of a step of 1e-5 are good to about 1e-9.
		assert.InDelta(t, v, got.Value, 1e-10, what)
		assert.InDelta(t, se, got.SE, 1e-7, what)
		both := spreadOf(f, func(x []float64) float64 { return of(x) + whole(x) })
		sd := spreadOf(f, whole)
		r := (both*both - se*se - sd*sd) / (2 * se * sd)
		logit := func(p float64) float64 { return math.Log(p / (1 - p)) }
		own := z * se / (v * (1 - v)) * math.Sqrt(1-r*r)
		low := logit(v) - math.Hypot(logit(of(ends[0]))-logit(v), own)
		high := logit(v) + math.Hypot(logit(of(ends[1]))-logit(v), own)
		// Where a limit is and the coefficients at it are found to about 1e-5.
		assert.InDelta(t, low, logit(got.Low), 1e-4, what)
		assert.InDelta(t, high, logit(got.High), 1e-4, what)
		assert.Equal(t, "profile", got.Method)
	}
	for k := 1; k <= 2; k++ {
		row := f.Passed[k-1]
		require.Equal(t, cjs.Estimated, row.PassedShare.Status, "the day is late enough for a point")
		assert.InDelta(t, share(k)(f.X), row.PassedShare.Value, 1e-10)
		assert.InDelta(t, spreadOf(f, share(k)), row.PassedShare.SE, 1e-7)
		require.Equal(t, "profile", row.PassedShare.Method)
		ends := [2][]float64{bestWith(t, f, k, row.PassedShare.Low), bestWith(t, f, k, row.PassedShare.High)}
		held("so far", row.SoFar, soFar(k), share(k), ends)
		held("still to pass", row.StillToPass, func(x []float64) float64 { return share(k)(x) - soFar(k)(x) }, share(k), ends)
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
		low, high = known[k]+waiting*low, known[k]+waiting*high
		// At the limits of what will have passed it may be farther off.
		for i, limit := range []float64{f.Passed[k-1].PassedShare.Low, f.Passed[k-1].PassedShare.High} {
			there, own := unseen(k, bestWith(t, f, k, limit))
			off := math.Hypot(there-sum, z*math.Sqrt(own))
			if i == 0 {
				low = min(low, max(known[k], known[k]+sum-off))
			} else {
				high = max(high, known[k]+sum+off)
			}
		}
		// The coefficients at a limit are known to about 1e-5.
		assert.InDelta(t, low, e.Low, 2e-3)
		assert.InDelta(t, high, e.High, 2e-3)
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

// openEnd is the small season with nothing known of detection at C: fish of the
// second day are a cohort of their own.
func openEnd(fish int, asOf float64) model.Input {
	in := smallSeason(fish, asOf)
	in.Holds = in.Holds[:1]
	h := in.Histories
	h.Cohorts = []string{"first", "second"}
	for i := range h.Released {
		if h.Released[i] > h.Released[0] {
			h.Cohort[i] = 1
		}
	}
	return in
}

// TestPassedSoFarIsPartOfTheEnd: where nobody is still to come both have one
// interval, and on no day does that of what has passed reach above that of what
// will have.
func TestPassedSoFarIsPartOfTheEnd(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	for _, asOf := range []float64{5, 9, 14, 300} {
		for _, in := range []model.Input{smallSeason(400, asOf), openEnd(400, asOf)} {
			f := mustFit(t, in, model.Spec{Survival: "reach + cohort"}, cjs.Options{})
			for _, row := range f.Passed {
				so, whole := row.SoFar, row.PassedShare
				if whole.Method == "bounds" {
					continue // which counts what was seen so far alone
				}
				assert.True(t, so.Low <= whole.Low && so.High <= whole.High, "day %g: %+v of %+v", asOf, so, whole)
				if asOf == 300 {
					// Fewer than one fish in a million is still to come.
					assert.InDelta(t, whole.Low, so.Low, 1e-5)
					assert.InDelta(t, whole.High, so.High, 1e-5)
				}
			}
		}
	}
}

// TestBorrowedWhileTheSeasonRuns: what the last site has from shared parameters
// alone is borrowed on every day, and that is said.
func TestBorrowedWhileTheSeasonRuns(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	for _, asOf := range []float64{9, 300} {
		f := mustFit(t, openEnd(900, asOf), model.Spec{Survival: "reach + cohort"}, cjs.Options{})
		all := f.Passed[1]
		require.Equal(t, 2, all.Site)
		assert.Equal(t, cjs.Borrowed, all.SoFar.Status, "day %g", asOf)
		assert.Equal(t, cjs.Estimated, f.Passed[0].SoFar.Status)
		assert.Contains(t, all.Doubts, cjs.WarnModelAlone)
		var ids []string
		for _, w := range f.Warnings {
			ids = append(ids, w.ID)
		}
		assert.Contains(t, ids, cjs.WarnModelAlone)
	}
}

// TestInseparableWhileTheSeasonRuns: what no model could tell is not too early,
// for waiting does not tell it; the product is told.
func TestInseparableWhileTheSeasonRuns(t *testing.T) {
	for _, asOf := range []float64{1, 6, 9, 300} {
		f := mustFit(t, openEnd(900, asOf), model.Spec{Survival: "reach by cohort"}, cjs.Options{})
		var ids []string
		for _, w := range f.Warnings {
			ids = append(ids, w.ID)
			if w.ID == cjs.WarnTooEarly {
				assert.NotContains(t, w.Message, "C", "day %g", asOf)
			}
		}
		assert.Contains(t, ids, cjs.WarnInseparable, "day %g", asOf)
		for _, row := range f.Passed {
			if row.Site == 2 {
				assert.Equal(t, []cjs.Status{cjs.Inseparable, cjs.Inseparable}, []cjs.Status{row.PassedShare.Status, row.SoFar.Status}, "day %g", asOf)
			}
		}
		assert.NotEmpty(t, f.Products, "day %g", asOf)
	}
}

// TestFishPassedOnAnEarlyDay: fish passed are those by the end of the data, and
// stand beside the share that has passed so far.
func TestFishPassedOnAnEarlyDay(t *testing.T) {
	f := mustFit(t, smallSeason(200, 5), model.Spec{Survival: "reach"}, cjs.Options{})
	row := f.Passed[1]
	require.Equal(t, cjs.TooEarly, row.PassedShare.Status)
	assert.Equal(t, cjs.Estimated, row.SoFar.Status)
	assert.Equal(t, cjs.Estimated, row.PassedFish.Status)
	assert.False(t, math.IsNaN(row.PassedFish.Value))
}
