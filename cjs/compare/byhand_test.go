package compare_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// twoCohorts are 100 fish early and 100 late past one site, of which so many
// are seen.
func twoCohorts(early, late int) *history.Histories {
	return &history.Histories{River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}}}, Cohorts: []string{"early", "late"},
		Entry: make([]uint8, 4), Seen: []uint64{1, 0, 1, 0}, End: make([]history.End, 4), Cohort: []int32{0, 0, 1, 1},
		Count: []int32{int32(early), int32(100 - early), int32(late), int32(100 - late)}}
}

// TestComparisonByHand: 30 and 44 of 100 seen where detection is known to be
// 0.8. One survival for both: θ = 0.37; one each: 0.30 and 0.44. −2 ln L is
// that of binomials, AICc that of 1 and 2 parameters and 200 releases; the
// weights follow from their difference, and all averages from the weights.
func TestComparisonByHand(t *testing.T) {
	const p, n = 0.8, 200.0
	in := model.Input{Histories: twoCohorts(30, 44), Holds: []model.Hold{{Reach: -1, Row: 0, Value: p}}}
	specs := []model.Spec{{Name: "apart", Survival: "reach by cohort"}, {Name: "together", Survival: "reach"}}
	r, err := compare.Run(t.Context(), in, specs, cjs.Options{Interval: "logit"}, nil)
	require.NoError(t, err)
	ln := func(x, n float64) float64 { return -2 * (x*math.Log(x/n) + (n-x)*math.Log(1-x/n)) }
	aicc := func(m2 float64, k float64) float64 { return m2 + 2*k + 2*k*(k+1)/(n-k-1) }
	m1, m2 := ln(74, 200), ln(30, 100)+ln(44, 100)
	delta := aicc(m1, 1) - aicc(m2, 2)
	require.Greater(t, delta, 0.0)
	w := 1 / (1 + math.Exp(-delta/2)) // of the better
	require.Equal(t, "apart", r.Variants[0].Name())
	best, other := r.Variants[0], r.Variants[1]
	// 1e-8: where Newton's method ends.
	assert.InDelta(t, 0, best.Delta, 1e-12)
	assert.InDelta(t, delta, other.Delta, 1e-8)
	assert.InDelta(t, w, best.Weight, 1e-8)
	assert.InDelta(t, 1-w, other.Weight, 1e-8)
	assert.InDelta(t, math.Exp(delta/2), other.Evidence, 1e-8)
	assert.InDelta(t, 1, best.Evidence, 1e-12)
	// Only one of the two uses the cohort, both the reach.
	for _, x := range r.Importance {
		if x.Part == model.Survival {
			assert.InDelta(t, map[string]float64{"cohort": w, "reach": 1}[x.Name], x.Weight, 1e-8, x.Name)
		}
	}

	average := func(a, b, sa, sb float64) (v, se float64) {
		v = w*a + (1-w)*b
		return v, w*math.Hypot(sa, a-v) + (1-w)*math.Hypot(sb, b-v)
	}
	check := func(what string, e cjs.Estimate, v, se float64) {
		assert.InDelta(t, v, e.Value, 1e-8, what)
		assert.InDelta(t, se, e.SE, 1e-8, what)
		half := 1.959963984540054 * se / (v * (1 - v))
		assert.InDelta(t, 1/(1+(1-v)/v*math.Exp(half)), e.Low, 1e-8, what)
		assert.InDelta(t, 1/(1+(1-v)/v*math.Exp(-half)), e.High, 1e-8, what)
	}
	binomial := func(theta, n float64) float64 { return math.Sqrt(theta*(1-theta)/n) / p }
	// Survival of each cohort, and what passed of it: the same here.
	for c, theta := range []float64{0.30, 0.44} {
		v, se := average(theta/p, 0.37/p, binomial(theta, 100), binomial(0.37, 200))
		check("survival", r.Averaged.Survival[c].Estimate, v, se)
		check("passed", r.Averaged.Passed[1+c].PassedShare, v, se)
	}
	// All fish: the same point, the spreads of one binomial and of two.
	both := math.Sqrt(0.30*0.70/100+0.44*0.56/100) / 2 / p
	v, se := average(0.37/p, 0.37/p, both, binomial(0.37, 200))
	check("passed of all", r.Averaged.Passed[0].PassedShare, v, se)

	// Fish passed: of those never seen q(θ) = θ(1/p − 1)/(1 − θ) did, with
	// q' = (1/p − 1)/(1 − θ)².
	q := func(theta float64) float64 { return theta * (1/p - 1) / (1 - theta) }
	by := func(theta float64) float64 { return (1/p - 1) / (1 - theta) / (1 - theta) }
	fish := func(never, theta, releases float64) (v, se float64) {
		return never * q(theta), math.Sqrt(never*never*by(theta)*by(theta)*theta*(1-theta)/releases + never*q(theta)*(1-q(theta)))
	}
	a, sa := fish(70, 0.30, 100)
	b, sb := fish(70, 0.37, 200)
	v, se = average(30+a, 30+b, sa, sb)
	e := r.Averaged.Passed[1].PassedFish
	assert.InDelta(t, v, e.Value, 1e-6)
	assert.InDelta(t, se, e.SE, 1e-6)
	assert.True(t, 30 <= e.Low && e.Low < e.Value && e.Value < e.High && e.High <= 100)

	// Detection is held, and averaged it is what it was.
	assert.InDelta(t, p, r.Averaged.Passed[0].Detection.Value, 1e-12)
	assert.InDelta(t, p, r.Averaged.Detection[0].Value, 1e-12)
	assert.Equal(t, cjs.Absent, r.Averaged.Passed[0].WithRetention.Status)

	// The likelihood ratio test of the two, and with a variance inflation F.
	test, err := compare.Against(other, best)
	require.NoError(t, err)
	assert.Equal(t, 1, test.DF)
	assert.InDelta(t, m1-m2, test.Statistic, 1e-8)
	// Chi-square on 1 df is a normal squared.
	assert.InDelta(t, 2*distuv.UnitNormal.Survival(math.Sqrt(m1-m2)), test.P, 1e-8)
	r, err = compare.Run(t.Context(), in, specs, cjs.Options{VarianceInflation: 1.6}, nil)
	require.NoError(t, err)
	together, err := r.Find("together")
	require.NoError(t, err)
	apart, err := r.Find("apart")
	require.NoError(t, err)
	test, err = compare.Against(together, apart)
	require.NoError(t, err)
	// 200 releases less the two parameters of the wider model; F on 1 and 198
	// is the square of Student's t on 198.
	assert.True(t, test.F)
	assert.Equal(t, 198, test.DF2)
	assert.InDelta(t, (m1-m2)/1.6, test.Statistic, 1e-8)
	assert.InDelta(t, 2*distuv.StudentsT{Sigma: 1, Nu: 198}.Survival(math.Sqrt((m1-m2)/1.6)), test.P, 1e-8)
}

// TestRowsAreAveragedApart: two rows of one site and the whole of it, each over
// both models.
func TestRowsAreAveragedApart(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"up", "down"}}}}}
	for seen, n := range []int32{200, 60, 30, 110} {
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, uint64(seen)), append(h.End, history.Open)
		h.Count, h.Cohort = append(h.Count, n), append(h.Cohort, 0)
	}
	opt := cjs.Options{}
	opt.Retention.Held, opt.Retention.Kept = 100, 95
	r, err := compare.Run(t.Context(), model.Input{Histories: h}, []model.Spec{{Detection: "row"}, {Detection: "same"}}, opt, nil)
	require.NoError(t, err)
	require.Len(t, r.Averaged.Detection, 3)
	for i, d := range r.Averaged.Detection {
		assert.Equal(t, [3]int{0, 1, -1}[i], d.Row)
		want := 0.0
		for _, v := range r.Variants {
			want += v.Weight * v.Fit.Detection[i].Value
		}
		assert.InDelta(t, want, d.Value, 1e-12)
	}
	assert.Equal(t, cjs.Estimated, r.Variants[0].Fit.Passed[0].WithRetention.Status)
	assert.Equal(t, cjs.Absent, r.Averaged.Passed[0].WithRetention.Status)
}

// TestAllModelsUseTheSameFish: a fish without a size is left out of the model
// that does not ask for it too; models that differ in a link are two; one that
// did not converge has no rank.
func TestAllModelsUseTheSameFish(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}}}}
	size := history.Column{Name: "size"}
	for i := range 60 {
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, uint64(i*7%5%2))
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
		size.Value = append(size.Value, float64(i%6))
	}
	size.Value[4], size.Value[9] = math.NaN(), math.NaN()
	h.Columns = []history.Column{size}
	in := model.Input{Histories: h, Missing: "drop", Holds: []model.Hold{{Reach: 0, Row: -1, Value: 0.9}}}
	specs := []model.Spec{{Name: "plain"}, {Name: "size", Detection: "size"}, {Name: "linear", DetectionLink: "linear"}}
	r, err := compare.Run(t.Context(), in, specs, cjs.Options{}, nil)
	require.NoError(t, err)
	for _, v := range r.Variants {
		require.NoError(t, v.Err, v.Name())
		assert.Equal(t, 2, v.Fit.Problem.Dropped, v.Name())
	}
	v := compare.Variant{Fit: &cjs.Fit{Verdict: cjs.NotConverged, AICc: 10}}
	assert.False(t, v.Ranked())
	v.Fit.Verdict = cjs.Converged
	assert.True(t, v.Ranked())
	v.Fit.AICc = math.NaN()
	assert.False(t, v.Ranked())
}

// TestEveryWarning walks all IDs of a comparison: each is raised by what must
// raise it, holding the facts, and not by a near one.
func TestEveryWarning(t *testing.T) {
	run := func(in model.Input, specs ...model.Spec) *compare.Result {
		r, err := compare.Run(t.Context(), in, specs, cjs.Options{Interval: "logit"}, nil)
		require.NoError(t, err)
		return r
	}
	one := func(early, late int) *compare.Result {
		return run(model.Input{Histories: twoCohorts(early, late), Holds: []model.Hold{{Reach: -1, Row: 0, Value: 1}}}, model.Spec{Name: "apart", Survival: "reach by cohort"})
	}
	cases := map[string]struct {
		about       string
		raise, near *compare.Result
		facts       []string
	}{
		// The last survival can be had with one detection for all sites, not
		// with one each.
		compare.WarnAveragedDisagree: {"averages",
			run(dipper(t), model.Spec{Survival: "reach", Detection: "site"}, model.Spec{Survival: "reach", Detection: "same"}),
			run(dipper(t), model.Spec{Survival: "flood", Detection: "same"}, model.Spec{Survival: "reach", Detection: "same"}),
			[]string{"survival 1986 to 1987", "detection at 1987", "passed at 1987"}},
		// 3 of 100 are worth 2.91, 4 of 100 3.84: see few-fish.
		compare.WarnBestDoubtful: {"apart", one(3, 50), one(4, 50), []string{cjs.WarnSparse, "early", "0.03"}},
	}
	for _, id := range compare.WarningIDs {
		c, ok := cases[id]
		require.True(t, ok, "%s has no study that raises it", id)
		find := func(r *compare.Result) int {
			return slices.IndexFunc(r.Warnings, func(w cjs.Warning) bool { return w.ID == id })
		}
		i := find(c.raise)
		require.GreaterOrEqual(t, i, 0, id)
		assert.Equal(t, c.about, c.raise.Warnings[i].About)
		for _, fact := range c.facts {
			assert.Contains(t, c.raise.Warnings[i].Message, fact)
		}
		assert.Less(t, find(c.near), 0, "%v", c.near.Warnings)
	}
}

// TestDegreesOfFreedom: of reach + flood the design tells 7 of 8 apart, of flood
// 3: 4 degrees of freedom, and F is the ratio over these and the inflation. A
// narrower model that fits better shows a search that missed.
func TestDegreesOfFreedom(t *testing.T) {
	specs := []model.Spec{{Name: "flood", Survival: "flood", Detection: "same"}, {Name: "wide", Survival: "reach + flood", Detection: "same"}}
	r, err := compare.Run(t.Context(), dipper(t), specs, cjs.Options{VarianceInflation: 1.5}, nil)
	require.NoError(t, err)
	a, err := r.Find("flood")
	require.NoError(t, err)
	b, err := r.Find("wide")
	require.NoError(t, err)
	require.Equal(t, 8, b.Fit.Parameters)
	test, err := compare.Against(a, b)
	require.NoError(t, err)
	assert.Equal(t, [2]int{4, 426 - 7}, [2]int{test.DF, test.DF2})
	// 660.102774563 and 659.730085268: testdata/published/lebreton1992/models.json.
	assert.InDelta(t, (660.102774563-659.730085268)/4/1.5, test.Statistic, 1e-8)
	missed := *b.Fit
	missed.MinusTwoLogLikelihood = a.Fit.MinusTwoLogLikelihood + 0.001
	_, err = compare.Against(a, &compare.Variant{Spec: b.Spec, Fit: &missed})
	assert.ErrorContains(t, err, "missed its maximum")
}
