package cjs_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// z95 and z90 are the normal quantiles of 0.975 and 0.95.
const (
	z95 = 1.959963984540054
	z90 = 1.6448536269514722
)

// perfect holds detection at the first site below the release at 1: survival
// there is then a plain share of fish seen.
var perfect = []model.Hold{{Reach: -1, Row: 0, Value: 1}}

// logitLimits are the limits z standard errors from v on the logit scale:
// odds · exp(±z·SE/(v(1−v))), turned back into a share.
func logitLimits(v, se, z float64) (low, high float64) {
	odds, factor := v/(1-v), math.Exp(z*se/(v*(1-v)))
	low, high = odds/factor, odds*factor
	return low / (1 + low), high / (1 + high)
}

// cohorts are fish released at A, passing the sites below: seen[c] maps a
// history (first site first) to the number of fish of cohort c.
func cohorts(sites int, names []string, seen []map[string]int) *history.Histories {
	h := &history.Histories{Cohorts: names}
	for c, counts := range seen {
		one := counted(sites, counts)
		h.River = one.River
		h.Entry, h.Seen = append(h.Entry, one.Entry...), append(h.Seen, one.Seen...)
		h.End, h.Count = append(h.End, one.End...), append(h.Count, one.Count...)
		for range one.Entry {
			h.Cohort = append(h.Cohort, int32(c))
		}
	}
	return h
}

// TestIntervalByHand: odds of 1 and a half-width of 2·0.1/0.25 = 0.8 give
// e^−0.8 and e^0.8; outside (0, 1) there is no logit.
func TestIntervalByHand(t *testing.T) {
	low, high, method := cjs.Interval(0.5, 0.1, 2)
	assert.Equal(t, "logit", method)
	// 1e-14: rounding.
	assert.InDelta(t, math.Exp(-0.8)/(1+math.Exp(-0.8)), low, 1e-14)
	assert.InDelta(t, math.Exp(0.8)/(1+math.Exp(0.8)), high, 1e-14)
	// Odds 1/4, half-width 3·0.016/0.16 = 0.3.
	low, high, _ = cjs.Interval(0.2, 0.016, 3)
	assert.InDelta(t, 1/(1+4*math.Exp(0.3)), low, 1e-14)
	assert.InDelta(t, 1/(1+4*math.Exp(-0.3)), high, 1e-14)
	low, high, method = cjs.Interval(1.25, 0.1, 2)
	assert.Equal(t, "wald", method)
	assert.InDelta(t, 1.05, low, 1e-14)
	assert.InDelta(t, 1.45, high, 1e-14)
}

// TestWilsonByHand: with none of n the upper limit is z²/(n + z²), with all of
// n the lower one n/(n + z²); 5 of 10 at z = 2 gives (0.5 + 4/20)/(1 + 4/10) = 0.5
// ± 2/1.4·√(0.25/10 + 4/400).
func TestWilsonByHand(t *testing.T) {
	none := cjs.Wilson(0, 10, 2)
	assert.Equal(t, [3]float64{0, 0, 0}, [3]float64{none.Value, none.Low, none.SE})
	assert.InDelta(t, 4.0/14, none.High, 1e-15)
	all := cjs.Wilson(10, 10, 2)
	assert.Equal(t, [3]float64{1, 1, 0}, [3]float64{all.Value, all.High, all.SE})
	assert.InDelta(t, 10.0/14, all.Low, 1e-15)
	half := cjs.Wilson(5, 10, 2)
	assert.InDelta(t, 0.5-2*math.Sqrt(0.035)/1.4, half.Low, 1e-15)
	assert.InDelta(t, 0.5+2*math.Sqrt(0.035)/1.4, half.High, 1e-15)
	assert.InDelta(t, math.Sqrt(0.025), half.SE, 1e-15)
	assert.Equal(t, cjs.Absent, cjs.Wilson(0, 0, 2).Status)
	assert.True(t, math.IsNaN(cjs.Wilson(0, 0, 2).Low))
}

// TestPlainShareByHand: with detection known to be perfect survival is a share
// of n: SE √(p(1−p)/n), limits on the logit scale at the level asked for, all
// widened by the root of the variance inflation.
func TestPlainShareByHand(t *testing.T) {
	h := counted(2, map[string]int{"11": 30, "10": 70})
	for _, c := range []struct {
		level, inflation, z float64
	}{{0, 0, z95}, {0.9, 0, z90}, {0.95, 2.25, z95}} {
		f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{}, cjs.Options{Interval: "logit", Level: c.level, VarianceInflation: c.inflation})
		se := math.Sqrt(0.3 * 0.7 / 100)
		if c.inflation > 0 {
			se *= 1.5
		}
		for _, e := range []cjs.Estimate{f.Survival[0].Estimate, f.Passed[0].PassedShare} {
			// 1e-9: where Newton's method ends.
			assert.InDelta(t, 0.3, e.Value, 1e-9)
			assert.InDelta(t, se, e.SE, 1e-9)
			low, high := logitLimits(0.3, se, c.z)
			assert.InDelta(t, low, e.Low, 1e-9)
			assert.InDelta(t, high, e.High, 1e-9)
			assert.Equal(t, "logit", e.Method)
		}
		seen := f.Passed[0].SeenShare
		want := cjs.Wilson(30, 100, c.z)
		assert.InDelta(t, want.Low, seen.Low, 1e-12)
		assert.InDelta(t, want.High, seen.High, 1e-12)
	}
}

// binomialLimits are where −2 ln L of x of n, 2x ln(x/(nθ)) + 2(n−x)
// ln((n−x)/(n(1−θ))), is rise, by bisection on either side of x/n; 0 and 1
// where it never is.
func binomialLimits(x, n, rise float64) (low, high float64) {
	term := func(k, p float64) float64 {
		if k == 0 {
			return 0
		}
		return 2 * k * math.Log(k/(n*p))
	}
	over := func(theta float64) bool { return term(x, theta)+term(n-x, 1-theta) > rise }
	bisect := func(in, out float64) float64 {
		for range 200 {
			if m := (in + out) / 2; over(m) {
				out = m
			} else {
				in = m
			}
		}
		return in
	}
	low, high = 0, 1
	if x > 0 {
		low = bisect(x/n, 0)
	}
	if x < n {
		high = bisect(x/n, 1)
	}
	return low, high
}

// rise95 and rise90 are the chi-square quantiles on 1 degree of freedom:
// squares of the normal ones.
const (
	rise95 = z95 * z95
	rise90 = z90 * z90
)

// TestProfileOfABinomial: where all else is held a probability is a binomial's,
// whose limits by the likelihood ratio are found by bisection.
func TestProfileOfABinomial(t *testing.T) {
	alive := []model.Hold{{Reach: 0, Row: -1, Value: 1}}
	for _, c := range []struct {
		x, n             int
		level, inflation float64
		rise             float64
	}{
		{30, 100, 0.95, 1, rise95}, {30, 100, 0.9, 1, rise90}, {30, 100, 0.95, 1.44, 1.44 * rise95},
		{1, 20, 0.95, 1, rise95}, {19, 20, 0.95, 1, rise95}, {2, 3, 0.95, 1, rise95},
		{20, 20, 0.95, 1, rise95}, {0, 20, 0.95, 1, rise95},
	} {
		low, high := binomialLimits(float64(c.x), float64(c.n), c.rise)
		if c.x == c.n {
			// n ln θ = −rise/2.
			require.InDelta(t, math.Exp(-c.rise/2/float64(c.n)), low, 1e-12)
		}
		opt := cjs.Options{Interval: "profile", Level: c.level, VarianceInflation: c.inflation}
		check := func(what string, e cjs.Estimate) {
			assert.Equal(t, "profile", e.Method, what)
			// 1e-6: far below what is printed.
			assert.InDelta(t, float64(c.x)/float64(c.n), e.Value, 1e-6, what)
			assert.InDelta(t, low, e.Low, 1e-6, "%s, low of %d/%d", what, c.x, c.n)
			assert.InDelta(t, high, e.High, 1e-6, "%s, high of %d/%d", what, c.x, c.n)
		}
		h := counted(2, map[string]int{"11": c.x, "10": c.n - c.x})
		f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{}, opt)
		check("survival", f.Survival[0].Estimate)
		check("passed", f.Passed[0].PassedShare)
		f = mustFit(t, model.Input{Histories: h, Holds: alive}, model.Spec{}, opt)
		check("detection", f.Detection[0].Estimate)
		check("detection in the table", f.Passed[0].Detection)
		if c.x > 0 && c.x < c.n {
			// Passes of a test tag count as fish that are known to have passed.
			f = mustFit(t, model.Input{Histories: counted(2, map[string]int{"11": 1, "10": 0}), Holds: alive,
				TestPasses: []model.TestPasses{{Row: 0, Passes: c.n - 1, Read: c.x - 1}}}, model.Spec{}, opt)
			check("detection with test passes", f.Detection[0].Estimate)
		}
	}
}

// TestWholeSiteProfileByHand: two rows that see alike and independently,
// survival known to be 1: of 50 fish seen at one row or both or none the whole
// site's detection D = 1 − (1−p)² is a function of the one p, a binomial of
// 2·50 looks with 20·2 + 20 = 60 hits, and so are its limits.
func TestWholeSiteProfileByHand(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"up", "down"}}}}}
	for seen, n := range []int32{10, 12, 8, 20} {
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, uint64(seen)), append(h.End, history.Open)
		h.Count, h.Cohort = append(h.Count, n), append(h.Cohort, 0)
	}
	f := mustFit(t, model.Input{Histories: h, Holds: []model.Hold{{Reach: 0, Row: -1, Value: 1}}}, model.Spec{Detection: "same"}, cjs.Options{Interval: "profile"})
	require.Len(t, f.Detection, 3)
	low, high := binomialLimits(60, 100, rise95)
	site := func(p float64) float64 { return 1 - (1-p)*(1-p) }
	assert.InDelta(t, 0.6, f.Detection[1].Value, 1e-9)
	assert.InDelta(t, low, f.Detection[1].Low, 1e-6)
	e := f.Detection[2].Estimate
	assert.InDelta(t, 0.84, e.Value, 1e-9)
	assert.InDelta(t, 2*0.4*math.Sqrt(0.6*0.4/100), e.SE, 1e-9)
	assert.InDelta(t, site(low), e.Low, 1e-6)
	assert.InDelta(t, site(high), e.High, 1e-6)
}

// TestRetentionByHand: 30 of 100 passed, 492 of 500 tags were kept. The share
// is 0.3/0.984; relative variances add: 0.7/(0.3·100) and 0.016/(0.984·500).
func TestRetentionByHand(t *testing.T) {
	opt := cjs.Options{Interval: "logit"}
	opt.Retention.Held, opt.Retention.Kept = 500, 492
	f := mustFit(t, model.Input{Histories: counted(2, map[string]int{"11": 30, "10": 70}), Holds: perfect}, model.Spec{}, opt)
	e := f.Passed[0].WithRetention
	v := 0.3 / 0.984
	se := v * math.Sqrt(0.7/30+0.016/492)
	assert.InDelta(t, v, e.Value, 1e-9)
	assert.InDelta(t, se, e.SE, 1e-9)
	assert.Equal(t, cjs.Estimated, e.Status) // the limits: TestRetentionBySciPy
	// Without fish held for it there is none.
	f = mustFit(t, model.Input{Histories: counted(2, map[string]int{"11": 30, "10": 70}), Holds: perfect}, model.Spec{}, cjs.Options{})
	assert.Equal(t, cjs.Absent, f.Passed[0].WithRetention.Status)
}

// TestBetweenCohortsByHand: shares 0.2, 0.4, 0.5, 0.6, 0.8 have the mean 0.5
// and squared deviations 0.09 + 0.01 + 0 + 0.01 + 0.09 = 0.2: SD √(0.2/4).
// Four cohorts are too few to say.
func TestBetweenCohortsByHand(t *testing.T) {
	names := []string{"a", "b", "c", "d", "e"}
	var seen []map[string]int
	for _, n := range []int{20, 40, 50, 60, 80} {
		seen = append(seen, map[string]int{"11": n, "10": 100 - n})
	}
	f := mustFit(t, model.Input{Histories: cohorts(2, names, seen), Holds: perfect}, model.Spec{}, cjs.Options{})
	require.Len(t, f.Passed, 6)
	assert.InDelta(t, math.Sqrt(0.05), f.Passed[0].BetweenCohorts, 1e-9)
	for _, row := range f.Passed[1:] {
		assert.True(t, math.IsNaN(row.BetweenCohorts))
	}
	f = mustFit(t, model.Input{Histories: cohorts(2, names[:4], seen[:4]), Holds: perfect}, model.Spec{}, cjs.Options{})
	assert.True(t, math.IsNaN(f.Passed[0].BetweenCohorts))
}

// TestPassedFishWithBothParts: 300 of 1000 fish are seen at the one site, of 60
// test passes 40 are read: θ = Sp = 0.3, p = 2/3, S = 0.45. Of the 700 never
// seen each passed with q = (S − θ)/(1 − θ) = θ(1/p − 1)/(1 − θ) = 3/14, so
// 300 + 150 passed. The variance has 700·q(1−q) from the fish and, from the
// parameters, 700² of
//
//	(∂q/∂θ)²·θ(1−θ)/1000 + (∂q/∂p)²·p(1−p)/60,
//	∂q/∂θ = (1/p − 1)/(1−θ)²,  ∂q/∂p = −θ/(p²(1−θ)),
//
// θ and p being estimated from different fish. The interval is symmetric on
// the logit of q.
func TestPassedFishWithBothParts(t *testing.T) {
	h := counted(2, map[string]int{"11": 300, "10": 700})
	tests := []model.TestPasses{{Row: 0, Passes: 60, Read: 40}}
	f := mustFit(t, model.Input{Histories: h, TestPasses: tests}, model.Spec{}, cjs.Options{Interval: "logit"})
	theta, p, q := 0.3, 2.0/3, 3.0/14
	byTheta, byP := (1/p-1)/0.49, -theta/(p*p*0.7)
	parameters := 700 * 700 * (byTheta*byTheta*theta*0.7/1000 + byP*byP*p*(1-p)/60)
	se := math.Sqrt(parameters + 700*q*(1-q))
	low, high := logitLimits(q, se/700, z95)
	e := f.Passed[0].PassedFish
	assert.InDelta(t, 450, e.Value, 1e-6)
	assert.InDelta(t, se, e.SE, 1e-6)
	assert.InDelta(t, 300+700*low, e.Low, 1e-5)
	assert.InDelta(t, 300+700*high, e.High, 1e-5)
	assert.Equal(t, 300, f.Passed[0].KnownPassed)
	// Variance inflation widens what the parameters add, not chance of the fish.
	f = mustFit(t, model.Input{Histories: h, TestPasses: tests}, model.Spec{}, cjs.Options{Interval: "logit", VarianceInflation: 2})
	assert.InDelta(t, math.Sqrt(2*parameters+700*q*(1-q)), f.Passed[0].PassedFish.SE, 1e-6)
}

// TestPassedFishThroughTwoReaches: all is held. Survival 0.8 and 0.5, detection
// 0.6 at B and 0.4 at C. A fish never seen was released at A, and died above B
// (0.2), died between (0.8·0.4·0.5 = 0.16) or passed both unseen
// (0.8·0.4·0.5·0.6 = 0.096), together 0.456. One last seen at B went on unseen
// past C with 0.5·0.6/(0.5 + 0.3) = 3/8.
func TestPassedFishThroughTwoReaches(t *testing.T) {
	h := counted(3, map[string]int{"111": 10, "110": 40, "101": 8, "100": 57})
	holds := []model.Hold{{Reach: 0, Row: -1, Value: 0.8}, {Reach: 1, Row: -1, Value: 0.5}, {Reach: -1, Row: 0, Value: 0.6}, {Reach: -1, Row: 1, Value: 0.4}}
	f := mustFit(t, model.Input{Histories: h, Holds: holds}, model.Spec{}, cjs.Options{})
	atB, atC := (0.16+0.096)/0.456, 0.096/0.456
	b, c := f.Passed[0], f.Passed[1]
	assert.InDelta(t, 58+57*atB, b.PassedFish.Value, 1e-9)
	assert.InDelta(t, math.Sqrt(57*atB*(1-atB)), b.PassedFish.SE, 1e-9)
	assert.InDelta(t, 18+57*atC+40*3.0/8, c.PassedFish.Value, 1e-9)
	assert.InDelta(t, math.Sqrt(57*atC*(1-atC)+40*15.0/64), c.PassedFish.SE, 1e-9)
	assert.Equal(t, [2]int{58, 18}, [2]int{b.KnownPassed, c.KnownPassed})
	assert.Equal(t, [2]int{50, 18}, [2]int{b.Seen, c.Seen})
	assert.InDelta(t, 0.4, c.PassedShare.Value, 1e-12)
	assert.Equal(t, cjs.Held, c.PassedShare.Status)
	// All seen at the last site: the number is counted.
	f = mustFit(t, model.Input{Histories: counted(2, map[string]int{"11": 9, "10": 0}), Holds: []model.Hold{{Reach: 0, Row: -1, Value: 0.5}, {Reach: -1, Row: 0, Value: 0.6}}}, model.Spec{}, cjs.Options{})
	e := f.Passed[0].PassedFish
	assert.Equal(t, [4]float64{9, 0, 9, 9}, [4]float64{e.Value, e.SE, e.Low, e.High})
	assert.Equal(t, "counted", e.Method)
}

// TestOneSiteTable: 300 of 1000 are seen at the one site. Were 30 % of the
// passers seen, all passed; at detection d 0.3/d did, its limits those of the
// share seen over d and never above 1; d goes on in steps of 0.05.
func TestOneSiteTable(t *testing.T) {
	table := func(seen, all int) []cjs.IfDetection {
		f := mustFit(t, model.Input{Histories: counted(2, map[string]int{"11": seen, "10": all - seen})}, model.Spec{}, cjs.Options{})
		require.NotNil(t, f.OneSite)
		assert.Equal(t, 1, f.OneSite.Site)
		assert.InDelta(t, float64(seen)/float64(all), f.OneSite.Seen.Value, 1e-15)
		return f.OneSite.If
	}
	check := func(got []cjs.IfDetection, seen, all int, detections []float64) {
		w := cjs.Wilson(seen, all, z95)
		require.Len(t, got, len(detections))
		for i, d := range detections {
			assert.InDelta(t, d, got[i].Detection, 1e-12)
			assert.InDelta(t, math.Min(1, w.Value/d), got[i].Passed, 1e-12)
			assert.InDelta(t, math.Min(1, w.Low/d), got[i].Low, 1e-9)
			assert.InDelta(t, math.Min(1, w.High/d), got[i].High, 1e-9)
		}
	}
	steps := func(first float64, from int) []float64 {
		var out []float64
		if first > 0 {
			out = append(out, first)
		}
		for ; from <= 20; from++ {
			out = append(out, 0.05*float64(from))
		}
		return out
	}
	check(table(300, 1000), 300, 1000, steps(0.3, 7))
	check(table(317, 1000), 317, 1000, steps(0.317, 7))
	check(table(0, 50), 0, 50, steps(0, 1))
	// All seen: whatever the detection, they passed; it can only have been 1.
	check(table(50, 50), 50, 50, []float64{1})
	// 0.3/0.35 of the fish, from the score interval of 300/1000 (0.2724 to 0.3291).
	got := table(300, 1000)[1]
	assert.InDelta(t, 0.2724/0.35, got.Low, 0.00005/0.35)
	assert.InDelta(t, 0.3291/0.35, got.High, 0.00005/0.35)
	// Two sites tell their detection: no such table.
	f := mustFit(t, model.Input{Histories: counted(3, map[string]int{"111": 20, "110": 20, "101": 10, "100": 50})}, model.Spec{}, cjs.Options{})
	assert.Nil(t, f.OneSite)
}

// TestOddsRatioByHand: 30 of 100 and 60 of 120 passed: the odds ratio is
// (60/60)/(30/70) with the variance of its log 1/30 + 1/70 + 1/60 + 1/60
// (Woolf's formula, by differentiation of the two binomials).
func TestOddsRatioByHand(t *testing.T) {
	h := cohorts(2, []string{"first", "second"}, []map[string]int{{"11": 30, "10": 70}, {"11": 60, "10": 60}})
	or, se := 70.0/30, math.Sqrt(1.0/30+1.0/70+2.0/60)
	check := func(r cjs.Ratio, v, se float64) {
		assert.Equal(t, "odds ratio", r.Kind)
		assert.InDelta(t, v, r.PerUnit.Value, 1e-8)
		assert.InDelta(t, v*se, r.PerUnit.SE, 1e-8)
		assert.InDelta(t, v*math.Exp(-z95*se), r.PerUnit.Low, 1e-8)
		assert.InDelta(t, v*math.Exp(z95*se), r.PerUnit.High, 1e-8)
	}
	f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{Survival: "reach + cohort"}, cjs.Options{})
	e, err := f.Effects(t.Context())
	require.NoError(t, err)
	require.Len(t, e.Ratios, 1)
	assert.Equal(t, "first", e.Ratios[0].Against)
	assert.Equal(t, "cohort second", e.Ratios[0].Term)
	check(e.Ratios[0], or, se)
	assert.Equal(t, cjs.Absent, e.Ratios[0].PerSD.Status)

	// The same fish told apart by a number, 10 and 14: four units make the
	// ratio; one unit its fourth root.
	h = cohorts(2, []string{"all"}, []map[string]int{{"11": 30}, {"10": 70}, {"11": 60}, {"10": 60}})
	for i := range h.Cohort {
		h.Cohort[i] = 0
	}
	number := history.Column{Name: "size"}
	for i := range h.Count {
		v := 10.0
		if h.Count[i] == 60 {
			v = 14
		}
		number.Value = append(number.Value, v)
	}
	h.Columns = []history.Column{number}
	f = mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{Survival: "size"}, cjs.Options{})
	e, err = f.Effects(t.Context())
	require.NoError(t, err)
	require.Len(t, e.Ratios, 1)
	check(e.Ratios[0], math.Pow(or, 0.25), se/4)
	// The number's standard deviation over 100 fish of 10 and 120 of 14.
	sd := f.Problem.Numbers[0].SD
	assert.InDelta(t, 4*math.Sqrt(100.0*120/(220*219)), sd, 1e-9)
	per := e.Ratios[0].PerSD
	assert.InDelta(t, math.Pow(or, sd/4), per.Value, 1e-8)
	assert.InDelta(t, per.Value*math.Exp(-z95*se*sd/4), per.Low, 1e-8)
	assert.InDelta(t, per.Value*math.Exp(z95*se*sd/4), per.High, 1e-8)
	assert.InDelta(t, math.Log(or)/4, f.Coefficients[1].Estimate, 1e-8)
	assert.InDelta(t, se/4, f.Coefficients[1].SE, 1e-8)
}

// TestRateRatioByHand: mortality at a rate r per km over 20 km: S = e^−20r. The
// ratio of the rates is ln 0.5/ln 0.3, and SE of ln r is SE(S)/(S·|ln S|).
func TestRateRatioByHand(t *testing.T) {
	h := cohorts(2, []string{"first", "second"}, []map[string]int{{"11": 30, "10": 70}, {"11": 60, "10": 60}})
	h.River.Sites[0].Km, h.River.Sites[1].Km = 20, 0
	f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{Survival: "reach + cohort", SurvivalLink: "per km"}, cjs.Options{})
	e, err := f.Effects(t.Context())
	require.NoError(t, err)
	require.Len(t, e.Ratios, 1)
	v := math.Log(0.5) / math.Log(0.3)
	log := func(s, n float64) float64 { return math.Sqrt(s*(1-s)/n) / (s * -math.Log(s)) }
	se := math.Hypot(log(0.3, 100), log(0.5, 120))
	r := e.Ratios[0]
	assert.Equal(t, "rate ratio", r.Kind)
	assert.InDelta(t, v, r.PerUnit.Value, 1e-8)
	assert.InDelta(t, v*se, r.PerUnit.SE, 1e-8)
	assert.InDelta(t, v*math.Exp(-z95*se), r.PerUnit.Low, 1e-8)
	assert.InDelta(t, v*math.Exp(z95*se), r.PerUnit.High, 1e-8)
}

// TestReadRateRatioByHand: all 220 fish survive; of 100 and of 120 each cohort's
// array detects 30 and 60. With reads Poisson the rates are −ln(1 − p), and SE
// of the log of a rate is SE(p)/((1 − p)·rate).
func TestReadRateRatioByHand(t *testing.T) {
	h := cohorts(2, []string{"first", "second"}, []map[string]int{{"11": 30, "10": 70}, {"11": 60, "10": 60}})
	alive := []model.Hold{{Reach: 0, Row: -1, Value: 1}}
	f := mustFit(t, model.Input{Histories: h, Holds: alive}, model.Spec{Survival: "reach", Detection: "row + cohort", DetectionLink: "cloglog"}, cjs.Options{})
	e, err := f.Effects(t.Context())
	require.NoError(t, err)
	require.Len(t, e.Ratios, 1)
	v := math.Log(0.5) / math.Log(0.7)
	log := func(p, n float64) float64 { return math.Sqrt(p*(1-p)/n) / ((1 - p) * -math.Log(1-p)) }
	se := math.Hypot(log(0.3, 100), log(0.5, 120))
	r := e.Ratios[0]
	assert.Equal(t, "rate ratio", r.Kind)
	// 1e-8: the fit stops within 1e-9 standard errors of the maximum.
	assert.InDelta(t, v, r.PerUnit.Value, 1e-8)
	assert.InDelta(t, v*se, r.PerUnit.SE, 1e-8)
	assert.InDelta(t, 0.3, f.Detection[0].Value, 1e-8)
	assert.InDelta(t, 0.5, f.Detection[1].Value, 1e-8)
}

// TestPaceByHand: 64 of 100 survive 20 km, or 2 days: per 10 km or a day √0.64
// = 0.8, its SE 0.048·0.5/0.8, its limits the roots of the reach's.
func TestPaceByHand(t *testing.T) {
	for link, unit := range map[string]string{"per km": "km", "per day": "day"} {
		h := counted(2, map[string]int{"11": 64, "10": 36})
		h.River.Sites[0].Km, h.River.Sites[1].Km, h.River.Sites[1].Days = 20, 0, 2
		f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{SurvivalLink: link}, cjs.Options{Interval: "logit"})
		e, err := f.Effects(t.Context())
		require.NoError(t, err)
		require.Len(t, e.Paces, 1)
		low, high := logitLimits(0.64, 0.048, z95)
		p := e.Paces[0]
		assert.Equal(t, unit, p.Unit)
		assert.Equal(t, map[string]float64{"km": 10, "day": 1}[unit], p.Length)
		assert.InDelta(t, 0.8, p.Value, 1e-9)
		assert.InDelta(t, 0.03, p.SE, 1e-9)
		assert.InDelta(t, math.Sqrt(low), p.Low, 1e-8)
		assert.InDelta(t, math.Sqrt(high), p.High, 1e-8)
	}
}

// TestRelativePassedByHand: two cohorts past one site whose detection is told
// by test passes. Its uncertainty is the same for both and falls out of their
// ratio: (240/800)/(300/600) with the variance of the log (1−0.3)/240 +
// (1−0.5)/300.
func TestRelativePassedByHand(t *testing.T) {
	h := cohorts(2, []string{"first", "second"}, []map[string]int{{"11": 300, "10": 300}, {"11": 240, "10": 560}})
	f := mustFit(t, model.Input{Histories: h, TestPasses: []model.TestPasses{{Row: 0, Passes: 30, Read: 24}}}, model.Spec{}, cjs.Options{})
	e, err := f.Effects(t.Context())
	require.NoError(t, err)
	require.Len(t, e.Relative, 1)
	r := e.Relative[0]
	se := math.Sqrt(0.7/240 + 0.5/300)
	assert.Equal(t, [2]string{"second", "first"}, [2]string{r.Cohort, r.Against})
	assert.InDelta(t, 0.6, r.Value, 1e-8)
	assert.InDelta(t, 0.6*se, r.SE, 1e-8)
	assert.InDelta(t, 0.6*math.Exp(-z95*se), r.Low, 1e-8)
	assert.InDelta(t, 0.6*math.Exp(z95*se), r.High, 1e-8)
	// Each share itself carries it: relative variance 0.5/300 and 0.2/24 = (1−p)/(p·30).
	assert.InDelta(t, 0.625*math.Sqrt(0.5/300+0.2/24), f.Passed[1].PassedShare.SE, 1e-8)
	// All fish: 540 of 1400 seen.
	assert.InDelta(t, 540.0/1400/0.8, f.Passed[0].PassedShare.Value, 1e-8)
	assert.InDelta(t, 540.0/1400/0.8*math.Sqrt(pooled(600, 0.5, 800, 0.3)+0.2/24), f.Passed[0].PassedShare.SE, 1e-8)
}

// pooled is the relative variance of the mean of two shares weighed by their fish.
func pooled(n, p, m, q float64) float64 {
	return (n*p*(1-p) + m*q*(1-q)) / ((n*p + m*q) * (n*p + m*q))
}
