package travel

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/passtime"
)

// The harmonic mean's example of testdata/published/closed_form.
func TestSummaryAgainstClosedForm(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/published/closed_form/closed_form.json")
	require.NoError(t, err)
	var c struct {
		Inputs struct {
			Harmonic struct {
				Days []float64
				Km   float64
			}
		}
		Values struct {
			Harmonic map[string]float64
		}
	}
	require.NoError(t, json.Unmarshal(raw, &c))
	days, want := c.Inputs.Harmonic.Days, c.Values.Harmonic
	speed := make([]float64, len(days))
	for i, d := range days {
		speed[i] = c.Inputs.Harmonic.Km / d
	}
	d, v := history.Summarise(days, []float64{0, 0.25, 1}), history.Summarise(speed, nil)
	const rounding = 1e-12
	assert.InDelta(t, want["harmonic_mean_days"], d.HarmonicMean, rounding)
	assert.InDelta(t, want["arithmetic_mean_days"], d.Mean, rounding)
	assert.InDelta(t, want["median_days"], d.Median, rounding)
	assert.InDelta(t, want["mean_of_individual_rates"], v.Mean, rounding)
	assert.InDelta(t, want["km_per_day_from_harmonic"], c.Inputs.Harmonic.Km/d.HarmonicMean, rounding)
	assert.InDelta(t, want["km_per_day_from_arithmetic"], v.HarmonicMean, rounding)
	// By hand: Σ(x−5)² = 9+1+1+0+25 = 36 over 4.
	assert.InDelta(t, 3, d.SD, rounding)
	assert.Equal(t, []float64{2, 4, 10}, d.Quantiles)
	assert.Equal(t, 5, d.N)
	none := history.Summarise(nil, []float64{0.5})
	assert.True(t, math.IsNaN(none.Mean) && math.IsNaN(none.Quantiles[0]) && none.N == 0)
}

// The closed form of the maximum: mean m̂ = Σt/n and 1/λ̂ = Σ(1/t − 1/m̂)/n,
// with variances m³/(λn) and 2λ²/n (Tweedie 1957, Annals of Mathematical
// Statistics 28:362–377; SciPy finds the same maximum, testdata/published/scipy/in_tests.py).
func TestLawAgainstTheClosedForm(t *testing.T) {
	const km = 40.0
	days := []float64{2.1, 3.4, 5.5, 5.9, 8.8, 12.5, 4.4}
	n := float64(len(days))
	var m, inverse float64
	for _, x := range days {
		m += x / n
	}
	for _, x := range days {
		inverse += (1/x - 1/m) / n
	}
	shape := 1 / inverse
	l, why, err := fitLaw(context.Background(), km, &journeys{days: days, room: open(len(days))}, Options{}.filled())
	require.NoError(t, err)
	require.Empty(t, why)
	// Newton's method stops at 1e-9 standard errors.
	const tol = 1e-8
	assert.InEpsilon(t, km/m, l.Drift.Value, tol)
	assert.InEpsilon(t, km/math.Sqrt(shape), l.Spread.Value, tol)
	assert.InEpsilon(t, m, l.Mean.Value, tol)
	// SE(m) = √(m³/λn); relative standard errors of m and of v are the same.
	assert.InEpsilon(t, math.Sqrt(m*m*m/shape/n), l.Mean.SE, tol)
	assert.InEpsilon(t, math.Sqrt(m*m*m/shape/n)/m*l.Drift.Value, l.Drift.SE, tol)
	// λ = d²/σ²: the relative standard error of σ is half that of λ.
	assert.InEpsilon(t, l.Spread.Value*math.Sqrt(2/n)/2, l.Spread.SE, tol)
	assert.InDelta(t, 0, l.Correlation, tol)
	assert.InEpsilon(t, l.Drift.Value*math.Exp(1.959963984540054*l.Drift.SE/l.Drift.Value), l.Drift.High, tol)
	// The median's by differences of the quantile: v and σ are uncorrelated.
	median := func(v, s float64) float64 { return passtime.Law{Km: km, Drift: v, Spread: s}.Quantile(0.5) }
	v, s, h := l.Drift.Value, l.Spread.Value, 1e-4
	byV := (median(v+h, s) - median(v-h, s)) / (2 * h) * l.Drift.SE
	byS := (median(v, s+h) - median(v, s-h)) / (2 * h) * l.Spread.SE
	assert.InEpsilon(t, math.Hypot(byV, byS), l.Median.SE, 1e-6, "error of the differences, h²")
	assert.InEpsilon(t, median(v, s), l.Median.Value, tol)
	assert.Equal(t, cjs.Converged, l.Verdict)
	assert.False(t, l.Truncated)
	assert.Zero(t, l.Hidden)
	var sum float64
	for _, x := range days {
		sum += l.Over(km).LogDensity(x)
	}
	assert.InDelta(t, sum, l.LogLikelihood, 1e-10)
}

func open(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = math.Inf(1)
	}
	return w
}

// draw is a random first passage: Michael, Schucany & Haas 1976, The American
// Statistician 30:88–90.
func draw(r *rand.Rand, l passtime.Law) float64 {
	m, shape := l.Mean(), l.Km*l.Km/(l.Spread*l.Spread)
	z := r.NormFloat64()
	y := m * z * z / (2 * shape)
	x := m * (1 + y - math.Sqrt(y*(2+y)))
	if r.Float64() > m/(m+x) {
		return m * m / x
	}
	return x
}

// seenBy draws fish that start evenly over start days and keeps those that
// have arrived by day asOf.
func seenBy(r *rand.Rand, l passtime.Law, fish int, start, asOf float64) (days, room []float64) {
	for range fish {
		w := asOf - start*r.Float64()
		if d := draw(r, l); d < w {
			days, room = append(days, d), append(room, w)
		}
	}
	return days, room
}

func TestLawObjectiveDerivatives(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	days, room := seenBy(r, passtime.Law{Km: 40, Drift: 6, Spread: 18}, 30, 10, 15)
	room[0] = math.Inf(1)
	o := &lawObjective{km: 40, journeys: journeys{days: days, room: room}}
	for _, x := range [][]float64{{math.Log(6), math.Log(18)}, {math.Log(3.3), math.Log(7)}, {math.Log(11), math.Log(40)}} {
		var p likelihood.Point
		o.Eval(x, 2, &p)
		at := func(i, j int, h float64) likelihood.Point {
			y := []float64{x[0], x[1]}
			y[i] += h
			if j >= 0 {
				y[j] += h
			}
			var q likelihood.Point
			o.Eval(y, 1, &q)
			return q
		}
		// Five-point differences: error h⁴ and rounding of a sum of 30 over h.
		const h = 1e-3
		five := func(f func(h float64) float64) float64 {
			return (8*(f(h)-f(-h)) - (f(2*h) - f(-2*h))) / (12 * h)
		}
		for i := range 2 {
			assert.InDelta(t, five(func(h float64) float64 { return at(i, -1, h).F }), p.G[i], 1e-8*(1+math.Abs(p.G[i])))
			for j := range 2 {
				assert.InDelta(t, five(func(h float64) float64 { return at(j, -1, h).G[i] }), p.H[i*2+j], 1e-8*(1+math.Abs(p.H[i*2+j])))
			}
		}
	}
}

// With fish still on their way the law comes back, while the plain mean says
// that fish are faster than they are. Intervals cover in all replicates of each
// day, with a value for the drift or without: within four binomial standard
// deviations, which six counts at a time leave by chance once in 2,500.
func TestLawAccountsForAsOf(t *testing.T) {
	truth := passtime.Law{Km: 40, Drift: 6, Spread: 18}
	replicates := seasons
	if testing.Short() {
		replicates = 10
	}
	n := float64(replicates)
	for _, day := range []float64{14, 40} {
		var covered [3]int
		var plain, hidden []float64
		errs := []float64{}
		early, rejectHigh, rejectLow := 0, 0, 0
		for k := range replicates {
			r := rand.New(rand.NewPCG(20250403, uint64(k)))
			days, room := seenBy(r, truth, 400, 10, day)
			l, why, err := fitLaw(context.Background(), truth.Km, &journeys{days: days, room: room}, Options{AsOf: 1}.filled())
			require.NoError(t, err)
			require.Empty(t, why)
			require.True(t, l.Truncated)
			in := func(e cjs.Estimate, v float64) bool { return e.Low <= v && v <= e.High }
			for i, ok := range []bool{in(l.Drift, truth.Drift), in(l.Spread, truth.Spread), in(l.Mean, truth.Mean())} {
				if ok {
					covered[i]++
				}
			}
			plain = append(plain, math.Log(truth.Km/history.Summarise(days, nil).Mean/truth.Drift))
			if l.Check.PHigh < 0.05 {
				rejectHigh++
			}
			if l.Check.PLow < 0.05 {
				rejectLow++
			}
			if l.Drift.Status == cjs.Absent {
				early++
				assert.Zero(t, l.Drift.Low)
				assert.True(t, math.IsNaN(l.Drift.Value) && math.IsNaN(l.Median.Value) && math.IsInf(l.Mean.High, 1))
				continue
			}
			require.Equal(t, cjs.Converged, l.Verdict)
			errs = append(errs, math.Log(l.Drift.Value/truth.Drift))
			hidden = append(hidden, l.Hidden)
		}
		t.Logf("day %v: covered %v of %d, %d without a value; median log error %.3f, of the plain mean %.3f; hidden %.3f; check rejects %d to %d",
			day, covered, replicates, early, history.Summarise(errs, nil).Median, history.Summarise(plain, nil).Median, history.Summarise(hidden, nil).Median, rejectHigh, rejectLow)
		assert.Greater(t, history.Summarise(plain, nil).Median, map[float64]float64{14: 0.5, 40: 0.08}[day], "this is what the law is for")
		if day == 40 {
			assert.Zero(t, early)
			assert.InDelta(t, 0, history.Summarise(errs, nil).Median, 0.02)
			// 1 − F averaged over the starts, by the midpoint rule.
			var tail float64
			for i := range 100 {
				tail += truth.Tail(40-10*(float64(i)+0.5)/100) / 100
			}
			assert.InDelta(t, tail, history.Summarise(hidden, nil).Median, 0.01)
		} else {
			assert.Greater(t, early, 0, "a day early enough to have no value in some seasons")
		}
		if testing.Short() {
			continue
		}
		sd := math.Sqrt(n * 0.95 * 0.05)
		for _, c := range covered {
			assert.InDelta(t, 0.95*n, c, 4*sd)
		}
		// Between the two chi-square distributions: at 5 %, at most 5 % by
		// the one and at least 5 % by the other, within three binomial
		// standard deviations.
		assert.LessOrEqual(t, float64(rejectHigh), 0.05*n+3*sd)
		assert.GreaterOrEqual(t, float64(rejectLow), 0.05*n-3*sd)
	}
}

func TestLawThatCannotBeHad(t *testing.T) {
	opt := Options{}.filled()
	fit := func(km float64, days, room []float64) (string, *Law) {
		l, why, err := fitLaw(context.Background(), km, &journeys{days: days, room: room}, opt)
		require.NoError(t, err)
		return why, l
	}
	why, l := fit(math.NaN(), []float64{1, 2, 3, 4, 5}, open(5))
	assert.Nil(t, l)
	assert.Equal(t, "the study gives no km", why)
	why, _ = fit(10, []float64{1, 2, 3, 4}, open(4))
	assert.Contains(t, why, "only 4 fish")
	why, _ = fit(10, []float64{2, 2, 2, 2, 2}, open(5))
	assert.Contains(t, why, "the same time")
	// Every fish seen has only just had the time: nothing tells how slow the
	// others are.
	var days, room []float64
	for i := range 40 {
		x := 1 + float64(i)/40
		days, room = append(days, x), append(room, x+0.02)
	}
	opt.AsOf = 1
	why, l = fit(10, days, room)
	assert.Empty(t, why)
	assert.Equal(t, cjs.Absent, l.Drift.Status)
	assert.Zero(t, l.Drift.Low)
	assert.Greater(t, l.Drift.High, 0.0)
	assert.Greater(t, l.Spread.SE, 0.0)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, _, err := fitLaw(ctx, 10, &journeys{days: []float64{1, 2, 3, 4, 5}, room: open(5)}, opt)
	assert.ErrorIs(t, err, context.Canceled)
}

// Four fish by hand; times in days after a start. Scar Weir has two rows.
func handMade() *history.Histories {
	const no = history.NoTime
	d := func(x float64) int64 { return int64(x * dayMs) }
	return &history.Histories{
		River: history.River{Sites: []history.Site{
			{Name: "Mill Lade", Km: 58}, {Name: "Scar Weir", Km: 14, Rows: []string{"upper", "lower"}}, {Name: "Tidehead", Km: 0}}},
		Entry:    []uint8{0, 0, 0, 1},
		Seen:     []uint64{1 | 2 | 4, 2, 4, 4},
		End:      make([]history.End, 4),
		Cohort:   []int32{0, 0, 1, 1},
		Cohorts:  []string{"early", "late"},
		Released: []int64{d(1), d(2), d(3), d(4)},
		First:    []int64{d(5), d(4), d(10), no, d(6), no, no, no, d(13), no, no, d(6)},
		Last:     []int64{d(5.5), d(7), d(10), no, d(6), no, no, no, d(13), no, no, d(6.25)},
	}
}

func TestTimesByHand(t *testing.T) {
	r, err := New(context.Background(), handMade(), Options{})
	require.NoError(t, err)
	find := func(from, to, cohort int) *Stretch {
		for i := range r.Stretches {
			if s := &r.Stretches[i]; s.From == from && s.To == to && s.Cohort == cohort {
				return s
			}
		}
		t.Fatalf("no stretch %d to %d", from, to)
		return nil
	}
	require.Len(t, r.Stretches, 9)
	// Fish 0 was first seen at Scar Weir on day 4, at the lower row; fish 1 on
	// day 6. Fish 0 reached Tidehead on day 10; the fish released at Scar Weir
	// on day 4 came on day 6. Fish 2 was missed at Scar Weir.
	s := find(0, 1, All)
	assert.Equal(t, 2, s.Days.N)
	assert.Equal(t, 3.0, s.Days.Min)
	assert.Equal(t, 4.0, s.Days.Max)
	assert.InDelta(t, 44.0/4, s.KmPerDay.Min, 1e-12)
	s = find(1, 2, All)
	assert.Equal(t, 2, s.Days.N)
	assert.Equal(t, 2.0, s.Days.Min)
	assert.Equal(t, 6.0, s.Days.Max)
	assert.Equal(t, 1, find(1, 2, 1).Days.N)
	// The whole path: fish 0 in 9 days, fish 2 in 10; not the fish that
	// entered farther down.
	s = find(0, 2, All)
	assert.Equal(t, 58.0, s.Km)
	assert.Equal(t, 2, s.Days.N)
	assert.Equal(t, 9.5, s.Days.Mean)
	assert.Equal(t, 10.0, find(0, 2, 1).Days.Mean)
	assert.Contains(t, s.WhyNoLaw, "only 2 fish")

	// Stays: fish 0 from day 4 to day 7 at Scar Weir, fish 1 once.
	var weir, mouth *Stay
	for i := range r.Stays {
		if x := &r.Stays[i]; x.Cohort == All && x.Site == 1 {
			weir = x
		} else if x.Cohort == All && x.Site == 2 {
			mouth = x
		}
	}
	assert.Equal(t, 2, weir.Days.N)
	assert.Equal(t, 3.0, weir.Days.Max)
	assert.Equal(t, 1, weir.Once)
	assert.Equal(t, 0.25, mouth.Days.Max)
	assert.Equal(t, 2, mouth.Once)

	// From the last sighting above: fish 0 left Scar Weir on day 7.
	r, err = New(context.Background(), handMade(), Options{FromLast: true})
	require.NoError(t, err)
	assert.Equal(t, 3.0, find(1, 2, 0).Days.Max)
	assert.Equal(t, 3.0, find(0, 1, 0).Days.Min, "from the release all the same")
}

func TestArrivalsByHand(t *testing.T) {
	const d = dayMs
	h := handMade()
	opt := Options{Seen: func(i, site int, ms int64) float64 {
		// Fish 2 had one chance in ten to be seen at Tidehead, the others
		// were sure to be.
		if i == 2 {
			return 0.1
		}
		return 1
	}}
	r, err := New(context.Background(), h, opt)
	require.NoError(t, err)
	find := func(site, cohort int) *Arrival {
		for i := range r.Arrivals {
			if a := &r.Arrivals[i]; a.Site == site && a.Cohort == cohort {
				return a
			}
		}
		return nil
	}
	// Releases at Mill Lade on days 1, 2, 3.
	a := find(0, All)
	assert.Equal(t, [3]int64{1 * d, 2 * d, 3 * d}, a.Seen)
	assert.Equal(t, a.Seen, a.Corrected)
	// At Tidehead on days 6, 10 and 13; the last stands for ten fish.
	a = find(2, All)
	assert.Equal(t, 3, a.Fish)
	assert.Equal(t, int64(6*d), a.First)
	assert.Equal(t, int64(13*d), a.Last)
	assert.Equal(t, [3]int64{6 * d, 10 * d, 13 * d}, a.Seen)
	assert.Equal(t, [3]int64{10 * d, 13 * d, 13 * d}, a.Corrected)
	// At Scar Weir on days 4 and 6, and one was released there on day 4.
	assert.Equal(t, [3]int64{4 * d, 4 * d, 6 * d}, find(1, All).Seen)
	assert.Nil(t, find(0, 1).correctedNil())

	// Known only as a product: not where fish differ, but where they are alike.
	opt.SeenKnown = func(site int) bool { return false }
	r, err = New(context.Background(), h, opt)
	require.NoError(t, err)
	none := int64(history.NoTime)
	assert.Equal(t, [3]int64{none, none, none}, find(2, All).Corrected)
	assert.Contains(t, find(2, All).Why, "product with survival")
	assert.Equal(t, find(2, 0).Seen, find(2, 0).Corrected)

	r, err = New(context.Background(), h, Options{})
	require.NoError(t, err)
	assert.Equal(t, none, find(2, 0).Corrected[0])
	assert.Equal(t, "no model was fitted", find(2, 0).Why)
}

// correctedNil is nil for a release, which needs no correction.
func (a *Arrival) correctedNil() *Arrival {
	if a.Seen == a.Corrected {
		return nil
	}
	return a
}

// The weights are those of a fit: with two cohorts seen with detection 0.2 and
// 0.8 at the middle site, the corrected median date of all lies where that of
// the fish that passed does.
func TestArrivalsWithAFit(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	h := &history.Histories{
		River:   history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 58}, {Name: "Scar Weir", Km: 14}, {Name: "Tidehead", Km: 0}}},
		Cohorts: []string{"early", "late"},
	}
	passed := []weighted{}
	for i := range 4000 {
		c := i % 2
		released := int64(c * 30 * dayMs)
		first := []int64{history.NoTime, history.NoTime}
		var seen uint64
		if r.Float64() < 0.8 {
			at := released + int64((1+10*r.Float64())*dayMs)
			passed = append(passed, weighted{at, at, 1})
			if r.Float64() < []float64{0.8, 0.2}[c] {
				seen, first[0] = seen|1, at
			}
			if r.Float64() < 0.5 {
				seen, first[1] = seen|2, at+dayMs
			}
		}
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, seen), append(h.End, history.Open)
		h.Cohort, h.Released = append(h.Cohort, int32(c)), append(h.Released, released)
		h.First, h.Last = append(h.First, first...), append(h.Last, first...)
	}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach + cohort", Detection: "site by cohort"})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	assert.True(t, f.SeenKnown(1))
	assert.InDelta(t, 0.8, f.SeenAt()(0, 1, history.NoTime), 0.06, "four standard errors")
	assert.InDelta(t, 0.2, f.SeenAt()(1, 1, history.NoTime), 0.06)
	out, err := New(context.Background(), h, Options{Seen: f.SeenAt(), SeenKnown: f.SeenKnown})
	require.NoError(t, err)
	var a *Arrival
	for i := range out.Arrivals {
		if out.Arrivals[i].Site == 1 && out.Arrivals[i].Cohort == All {
			a = &out.Arrivals[i]
		}
	}
	// Half of those that passed came in early April, half a month later.
	assert.Less(t, a.Seen[1], int64(11*dayMs), "most fish seen were early ones")
	early := 0.0
	for _, c := range passed {
		if c.from <= a.Corrected[1] {
			early++
		}
	}
	// The date moves by days where its share moves by hundredths: the gap
	// between the cohorts is the hard place, and the share is what is held.
	assert.InDelta(t, 0.5, early/float64(len(passed)), 0.05)
	assert.InDelta(t, 0.8, f.SeenAt()(0, 1, history.NoTime), 0.06)
}

func TestWarnings(t *testing.T) {
	h := handMade()
	// Released on day 4 at Scar Weir and at Tidehead two hours later, 14 km:
	// 168 km/day. Fish 0 comes to Scar Weir before its release.
	h.First[11], h.Last[11] = int64(4*dayMs+2*3600_000), int64(4*dayMs+2*3600_000)
	h.First[1] = 0
	h.First[0] = 2 * dayMs
	r, err := New(context.Background(), h, Options{AsOf: 20 * dayMs})
	require.NoError(t, err)
	ids := map[string]string{}
	for _, w := range r.Warnings {
		ids[w.ID] = w.Message
	}
	assert.Contains(t, ids[WarnFast], "168 km/day over Scar Weir to Tidehead")
	assert.Contains(t, ids[WarnNotTimed], "1 fish detected at both ends of Mill Lade to Scar Weir")
	assert.Contains(t, ids[WarnAsOf], "1970-01-21")
	assert.Len(t, ids, 3)

	// Fish of two speeds do not follow one law.
	g := rand.New(rand.NewPCG(3, 3))
	two := &history.Histories{River: history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 40}, {Name: "Tidehead", Km: 0}}}, Cohorts: []string{"all"}}
	for i := range 600 {
		l := passtime.Law{Km: 40, Drift: []float64{2, 20}[i%2], Spread: 4}
		two.Entry, two.Seen, two.End, two.Cohort = append(two.Entry, 0), append(two.Seen, 1), append(two.End, 0), append(two.Cohort, 0)
		at := int64(draw(g, l) * dayMs)
		two.Released, two.First, two.Last = append(two.Released, 0), append(two.First, at), append(two.Last, at)
	}
	r, err = New(context.Background(), two, Options{})
	require.NoError(t, err)
	require.Len(t, r.Warnings, 1)
	assert.Equal(t, WarnLaw, r.Warnings[0].ID)
	assert.Contains(t, r.Warnings[0].Message, "below 0.001")
	assert.Greater(t, r.Stretches[0].Law.Check.ChiSquare, 100.0)
}

func TestWarnsWhenItIsTooEarly(t *testing.T) {
	h := &history.Histories{River: history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 40}, {Name: "Tidehead", Km: 0}}}, Cohorts: []string{"all"}}
	g := rand.New(rand.NewPCG(5, 5))
	for range 300 {
		at, seen := int64(draw(g, passtime.Law{Km: 40, Drift: 6, Spread: 18})*dayMs), uint64(1)
		if at > 3*dayMs {
			at, seen = history.NoTime, 0
		}
		h.Entry, h.Seen, h.End, h.Cohort = append(h.Entry, 0), append(h.Seen, seen), append(h.End, 0), append(h.Cohort, 0)
		h.Released, h.First, h.Last = append(h.Released, 0), append(h.First, at), append(h.Last, at)
	}
	r, err := New(context.Background(), h, Options{AsOf: 3 * dayMs})
	require.NoError(t, err)
	require.Len(t, r.Warnings, 2)
	assert.Equal(t, WarnEarly, r.Warnings[1].ID)
	assert.Contains(t, r.Warnings[1].Message, "Migration rates in km/day are at most: ")
	assert.Greater(t, r.Stretches[0].Law.Drift.High, 6.0)
}

func TestNoTimesNoTravel(t *testing.T) {
	h := handMade()
	h.First, h.Last = nil, nil
	_, err := New(context.Background(), h, Options{})
	assert.ErrorContains(t, err, "give the study [fish] and [sightings]")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = New(ctx, handMade(), Options{})
	assert.ErrorIs(t, err, context.Canceled)
}

// As of a day long after the last fish nothing is hidden, and nothing need be
// said; the law is the one of a season that is over.
func TestAsOfLongAfterTheSeason(t *testing.T) {
	h := &history.Histories{River: history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 40}, {Name: "Tidehead", Km: 0}}}, Cohorts: []string{"all"}}
	g := rand.New(rand.NewPCG(8, 8))
	for range 400 {
		at := int64(draw(g, passtime.Law{Km: 40, Drift: 6, Spread: 18}) * dayMs)
		h.Entry, h.Seen, h.End, h.Cohort = append(h.Entry, 0), append(h.Seen, 1), append(h.End, 0), append(h.Cohort, 0)
		h.Released, h.First, h.Last = append(h.Released, 0), append(h.First, at), append(h.Last, at)
	}
	over, err := New(context.Background(), h, Options{})
	require.NoError(t, err)
	late, err := New(context.Background(), h, Options{AsOf: 2000 * dayMs})
	require.NoError(t, err)
	assert.Empty(t, late.Warnings)
	a, b := over.Stretches[0].Law, late.Stretches[0].Law
	assert.InEpsilon(t, a.Drift.Value, b.Drift.Value, 1e-9, "Newton's tolerance")
	assert.InEpsilon(t, a.Spread.Value, b.Spread.Value, 1e-9)
	assert.InEpsilon(t, a.Spread.High, b.Spread.High, 1e-9)
	// With 400 fish the interval of v is wide enough to be made by profile,
	// which is nearly the other one.
	assert.Equal(t, "profile", b.Drift.Method)
	assert.InEpsilon(t, a.Drift.Low, b.Drift.Low, 0.01)
	assert.InEpsilon(t, a.Drift.High, b.Drift.High, 0.01)
	assert.InEpsilon(t, a.Mean.High, b.Mean.High, 0.01)
}

// A million fish: the short cuts that make them quick change nothing.
func TestArrivedIsArrived(t *testing.T) {
	for _, p := range []passtime.Law{{Km: 40, Drift: 6, Spread: 18}, {Km: 5, Drift: 25, Spread: 3}, {Km: 110, Drift: 0.5, Spread: 30}} {
		l := law{p}
		w := 1.0
		for !l.arrived(w) {
			w *= 1.01
		}
		assert.Less(t, p.Tail(w), 1e-18)
		d := p.LogCDFDerivatives(w)
		for _, x := range []float64{d.Value, d.V * p.Drift, d.S * p.Spread, d.VV * p.Drift * p.Drift, d.SS * p.Spread * p.Spread} {
			// a⁴ at most, from two derivatives of φ(a).
			assert.Less(t, math.Abs(x), 1e-18*1e5)
		}
		assert.False(t, l.arrived(math.Inf(-1)))
		assert.True(t, l.arrived(math.Inf(1)))
	}
}

func BenchmarkLawUnderWay(b *testing.B) {
	g := rand.New(rand.NewPCG(9, 9))
	days, room := seenBy(g, passtime.Law{Km: 40, Drift: 6, Spread: 18}, 100_000, 40, 60)
	for b.Loop() {
		if _, _, err := fitLaw(context.Background(), 40, &journeys{days: days, room: room}, Options{AsOf: 1}.filled()); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(days))*float64(b.N)/b.Elapsed().Seconds(), "fish/s")
}

// A site nobody was seen at, and a study whose releases have no time.
func TestEmptyPlaces(t *testing.T) {
	h := handMade()
	h.Seen = []uint64{0, 2, 0, 0}
	for at := range h.First {
		if i, b := at/h.River.Rows(), at%h.River.Rows(); h.Seen[i]>>b&1 == 0 {
			h.First[at], h.Last[at] = history.NoTime, history.NoTime
		}
	}
	h.Released = nil
	r, err := New(context.Background(), h, Options{})
	require.NoError(t, err)
	for _, s := range r.Stretches {
		if s.Cohort == All && s.From == 0 && s.To == 1 {
			assert.Equal(t, 1, s.NotTimed)
		}
		assert.Zero(t, s.Days.N)
		assert.Nil(t, s.Law)
	}
	for _, a := range r.Arrivals {
		assert.Equal(t, 1, a.Site)
	}
}
