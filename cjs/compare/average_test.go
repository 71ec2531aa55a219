package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// z is near enough 1.96; tests of intervals work with it by hand.
const z = 1.96

func early(low, high float64) cjs.Estimate {
	e := cjs.NoEstimate(cjs.TooEarly)
	e.Low, e.High, e.Method = low, high, "profile"
	return e
}

func point(v, se float64) cjs.Estimate {
	e := cjs.Estimate{Value: v, SE: se, Status: cjs.Estimated}
	e.Low, e.High, e.Method = cjs.Interval(v, se, z)
	return e
}

// Where it is too early for a point the average's interval holds those of all
// models; models of too much weight that give not even an interval leave none.
func TestNoAverageTooEarly(t *testing.T) {
	none := cjs.NoEstimate(cjs.Inseparable)
	e := noAverage([]one{{0.04, none}, {0.46, early(0.4, 0.9)}, {0.5, early(0.3, 0.8)}})
	assert.Equal(t, cjs.TooEarly, e.Status)
	assert.True(t, math.IsNaN(e.Value))
	assert.Equal(t, [2]float64{0.3, 0.9}, [2]float64{e.Low, e.High})
	assert.Equal(t, "profile", e.Method)
	// A model with a point, but of too little weight to be the average, has an interval too.
	p := point(0.6, 0.1)
	e = noAverage([]one{{0.94, early(0.5, 0.7)}, {0.06, p}})
	assert.Equal(t, cjs.TooEarly, e.Status)
	assert.Equal(t, [2]float64{p.Low, p.High}, [2]float64{e.Low, e.High})
	e = noAverage([]one{{0.06, none}, {0.94, early(0.3, 0.8)}})
	assert.Equal(t, cjs.Inseparable, e.Status)
	assert.True(t, math.IsNaN(e.Low) && math.IsNaN(e.High))
	assert.Equal(t, cjs.Inseparable, noAverage([]one{{1, none}}).Status)
}

// three are made-up ranked models of weight .94, .04 and .02 of 100 fish at
// three sites below the release; shares are their passed % at the sites for
// each group, NaN what they cannot give.
func three(groups [][]cjs.Category, shares [3][][3]float64) *Result {
	river := history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Scar Weir"}, {Name: "Tidehead"}}}
	p := &model.Problem{Histories: &history.Histories{River: river}}
	estimate := func(v float64) cjs.Estimate {
		if math.IsNaN(v) {
			return cjs.NoEstimate(cjs.Inseparable)
		}
		return point(v, 0.05)
	}
	r := &Result{}
	for i, w := range []float64{0.94, 0.04, 0.02} {
		f := &cjs.Fit{Problem: p, Verdict: cjs.Converged}
		for g, of := range groups {
			above := 1.0
			for k, v := range shares[i][g] {
				row := cjs.Passed{Of: of, Site: k + 1, Released: 100, Removed: 10, KnownPassed: 30, PassedShare: estimate(v), Detection: estimate(0.5),
					PassedFish: estimate(v), SoFar: cjs.NoEstimate(cjs.Absent), StillToPass: cjs.NoEstimate(cjs.Absent)}
				if !math.IsNaN(v) {
					row.PassedFish = cjs.Estimate{Value: 90 * v, SE: 4, Status: cjs.Estimated}
				}
				f.Passed = append(f.Passed, row)
				f.Survival = append(f.Survival, cjs.Survival{Of: of, From: k, Estimate: estimate(v / above)})
				f.Detection = append(f.Detection, cjs.Detection{Of: of, Site: k + 1, Row: -1, Estimate: estimate(0.5)})
				above = v
			}
		}
		r.Variants = append(r.Variants, &Variant{Spec: model.Spec{Name: string(rune('A' + i))}, Fit: f, Weight: w})
	}
	return r
}

func (r *Result) passedShares() (out []float64) {
	for _, p := range r.Averaged.Passed {
		out = append(out, p.PassedShare.Value)
	}
	return out
}

var (
	nan = math.NaN()
	all = [][]cjs.Category{nil}
)

// The best model cannot give the last site: the two that can hold 6 %, so that
// there is no average, and the sites above are averaged over all three.
func TestNoAverageOverWhatIsLeft(t *testing.T) {
	r := three(all, [3][][3]float64{{{0.5, 0.4, nan}}, {{0.9, 0.8, 0.7}}, {{0.6, 0.6, 0.6}}})
	r.average(cjs.Options{})
	got := r.passedShares()
	// .94·.5 + .04·.9 + .02·.6 and .94·.4 + .04·.8 + .02·.6
	assert.InDelta(t, 0.518, got[0], 1e-12)
	assert.InDelta(t, 0.420, got[1], 1e-12)
	assert.True(t, math.IsNaN(got[2]))
	last := r.Averaged.Passed[2]
	assert.Equal(t, cjs.Inseparable, last.PassedShare.Status)
	assert.True(t, math.IsNaN(last.PassedFish.Value) && math.IsNaN(last.PassedFishShare.Value))
	assert.Equal(t, cjs.Inseparable, last.PassedFish.Status)
	assert.InDelta(t, 0.5, last.Detection.Value, 1e-12, "of itself detection has all its models")
	assert.Len(t, r.Averaged.Over, 3)
	assert.True(t, math.IsNaN(r.Averaged.Survival[2].Value))
	// .94·.8 + .04·.8/.9 + .02·1
	assert.InDelta(t, 0.94*0.8+0.04*0.8/0.9+0.02, r.Averaged.Survival[1].Value, 1e-12)
	require.Len(t, r.Warnings, 1)
	assert.Equal(t, WarnAveragedDisagree, r.Warnings[0].ID)
	assert.Contains(t, r.Warnings[0].Message, `There is no average of passed at Tidehead; survival Scar Weir to Tidehead: "A" (weight 94.0 %) cannot give it`)
	assert.NotContains(t, r.Warnings[0].Message, "Alder Ford:")

	// se = Σ w √(.05² + (θ − θ̄)²) of the first site.
	se := 0.94*math.Hypot(0.05, 0.018) + 0.04*math.Hypot(0.05, 0.382) + 0.02*math.Hypot(0.05, 0.082)
	assert.InDelta(t, se, r.Averaged.Passed[0].PassedShare.SE, 1e-12)

	// Where the site above has none, the one below has none, whoever gives it.
	r = three(all, [3][][3]float64{{{0.5, nan, 0.3}}, {{0.9, 0.8, 0.7}}, {{0.6, 0.6, 0.6}}})
	r.average(cjs.Options{})
	got = r.passedShares()
	assert.InDelta(t, 0.518, got[0], 1e-12)
	assert.True(t, math.IsNaN(got[1]) && math.IsNaN(got[2]))
	assert.Contains(t, r.Warnings[0].Message, "passed at Scar Weir and below")
}

// A model of little weight that cannot give a site is left out at all of them:
// with it above and without it below passed % would rise downstream.
func TestOneSetOfModelsForAllSites(t *testing.T) {
	r := three(all, [3][][3]float64{{{0.70, 0.70, 0.70}}, {{0.10, 0.05, nan}}, {{0.70, 0.70, 0.70}}})
	r.average(cjs.Options{})
	for _, v := range r.passedShares() {
		assert.InDelta(t, 0.7, v, 1e-12)
	}
	require.Len(t, r.Averaged.Over, 2)
	assert.Equal(t, "C", r.Averaged.Over[1].Name())
	assert.InDelta(t, 0.7, r.Averaged.Survival[0].Value, 1e-12, "survival is of the same set")
	require.Len(t, r.Warnings, 1)
	assert.Contains(t, r.Warnings[0].Message, `Averaged without "B" (weight 4.0 %), which cannot give passed at Tidehead: the others hold 95 % of the weight or more.`)
	// Two left out would leave .94.
	r = three(all, [3][][3]float64{{{0.7, 0.6, 0.5}}, {{0.1, 0.05, nan}}, {{0.7, nan, nan}}})
	r.average(cjs.Options{})
	got := r.passedShares()
	assert.InDelta(t, (0.94*0.7+0.04*0.1)/0.98, got[0], 1e-12)
	assert.InDelta(t, (0.94*0.6+0.04*0.05)/0.98, got[1], 1e-12)
	assert.True(t, math.IsNaN(got[2]))
	assert.Contains(t, r.Warnings[0].Message, `no average of passed at Tidehead`)
	assert.Contains(t, r.Warnings[0].Message, `"B" (weight 4.0 %), "C" (weight 2.0 %) cannot give it`)

	// What no model gives parts no models, and all that are given agree.
	r = three(all, [3][][3]float64{{{0.5, nan, 0.3}}, {{0.9, nan, 0.7}}, {{0.6, nan, 0.6}}})
	r.average(cjs.Options{})
	got = r.passedShares()
	assert.True(t, math.IsNaN(got[1]))
	assert.InDelta(t, 0.94*0.3+0.04*0.7+0.02*0.6, got[2], 1e-12)
	assert.Empty(t, r.Warnings)
}

// The set serves all groups; one that runs out of models does not take the
// others' averages, and groups are each averaged as far down as they go.
func TestOneSetOfModelsForAllGroups(t *testing.T) {
	of := func(level string) []cjs.Category { return []cjs.Category{{Name: model.Cohort, Level: level}} }
	groups := [][]cjs.Category{nil, of("early"), of("late")}
	r := three(groups, [3][][3]float64{
		{{0.5, 0.4, 0.3}, {0.5, nan, 0.3}, {0.5, 0.4, 0.3}},
		{{0.9, 0.8, 0.7}, {0.9, 0.8, 0.7}, {0.9, 0.8, 0.7}},
		{{0.6, 0.6, 0.6}, {0.6, 0.6, 0.6}, {0.6, nan, nan}}})
	r.average(cjs.Options{})
	got := r.passedShares()
	require.Len(t, got, 9)
	over := func(a, b float64) float64 { return (0.94*a + 0.04*b) / 0.98 }
	for i, want := range []float64{over(0.5, 0.9), over(0.4, 0.8), over(0.3, 0.7), over(0.5, 0.9), nan, nan, over(0.5, 0.9), over(0.4, 0.8), over(0.3, 0.7)} {
		if math.IsNaN(want) {
			assert.True(t, math.IsNaN(got[i]), "%d", i)
		} else {
			assert.InDelta(t, want, got[i], 1e-12, "%d", i)
		}
	}
	assert.Contains(t, r.Warnings[0].Message, "passed at Scar Weir for cohort early and below")
	assert.Contains(t, r.Warnings[0].Message, `Averaged without "C" (weight 2.0 %), which cannot give passed at Scar Weir for cohort late`)
}

// Of 100 fish 10 were removed and 30 are known to have passed: of 60 it is not
// known. 48 fish are 18 of these, a share of .3; the interval is that of this
// share on the logit scale, se/60 its standard error.
func TestMeanFishByHand(t *testing.T) {
	fish := func(v, se float64) cjs.Estimate { return cjs.Estimate{Value: v, SE: se, Status: cjs.Estimated} }
	e := meanFish([]one{{0.5, fish(46, 3)}, {0.5, fish(50, 3)}}, 30, 60, z)
	assert.InDelta(t, 48, e.Value, 1e-12)
	se := math.Hypot(3, 2)
	assert.InDelta(t, se, e.SE, 1e-12)
	half := z * (se / 60) / (0.3 * 0.7)
	limit := func(x float64) float64 { return 30 + 60/(1+math.Exp(-(math.Log(0.3/0.7)+x))) }
	assert.InDelta(t, limit(-half), e.Low, 1e-9)
	assert.InDelta(t, limit(half), e.High, 1e-9)
	assert.Equal(t, "logit", e.Method)
	// It never ends below those known, nor above all.
	e = meanFish([]one{{0.5, fish(31, 3)}, {0.5, fish(31, 3)}}, 30, 60, z)
	assert.GreaterOrEqual(t, e.Low, 30.0)
	e = meanFish([]one{{0.5, fish(89, 3)}, {0.5, fish(89, 3)}}, 30, 60, z)
	assert.LessOrEqual(t, e.High, 90.0)
	// None unknown: counted.
	e = meanFish([]one{{0.5, fish(90, 0)}, {0.5, fish(90, 0)}}, 90, 0, z)
	assert.Equal(t, [2]float64{90, 90}, [2]float64{e.Low, e.High})
	assert.Equal(t, "counted", e.Method)
	// All say that all unknown passed: what they say of it holds.
	at := fish(90, 0)
	at.Low, at.High, at.Method = 80, 90, "profile"
	other := at
	other.Low = 75
	e = meanFish([]one{{0.5, at}, {0.5, other}}, 30, 60, z)
	assert.Equal(t, [2]float64{75, 90}, [2]float64{e.Low, e.High})
	assert.Equal(t, "profile", e.Method)
}

// An estimate at a bound enters with the half width of its profile interval
// over z for the standard error it lacks.
func TestMeanOfABoundary(t *testing.T) {
	at := cjs.Estimate{Value: 1, SE: nan, Low: 0.804, High: 1, Status: cjs.Boundary, Method: "profile"}
	e := mean([]one{{0.5, at}, {0.5, point(0.9, 0.05)}}, z)
	assert.InDelta(t, 0.95, e.Value, 1e-12)
	// .196/(2·1.96) = .05
	assert.InDelta(t, math.Hypot(0.05, 0.05), e.SE, 1e-12)
	// All at the bound: the interval that holds theirs, and not beyond 1.
	other := at
	other.Low = 0.7
	e = mean([]one{{0.5, at}, {0.5, other}}, z)
	assert.Equal(t, cjs.Boundary, e.Status)
	assert.Equal(t, [3]float64{0.7, 1, 1}, [3]float64{e.Low, e.Value, e.High})
	assert.Equal(t, "profile", e.Method)
	assert.True(t, math.IsNaN(e.SE))
	// One of them stopped a hair's breadth short of 1, where the logit scale would
	// say 0 to 1: the interval that holds theirs.
	short := point(1-1e-9, 1e-6)
	short.Low, short.High, short.Method = 0.75, 1, "profile"
	e = mean([]one{{0.5, at}, {0.5, short}}, z)
	assert.Equal(t, [2]float64{0.75, 1}, [2]float64{e.Low, e.High})
	assert.Equal(t, "profile", e.Method)
	assert.Equal(t, cjs.Estimated, e.Status)
	// Alone it is what it is.
	assert.Equal(t, at.Low, mean([]one{{0.97, at}}, z).Low)
}

// TestMeanByHand: weights 0.75 and 0.25 of 0.4 (SE 0.03) and 0.6 (SE 0.08) give
// 0.45, off by 0.05 and 0.15: SE 0.75·√(0.0009 + 0.0025) + 0.25·√(0.0064 +
// 0.0225) = 0.75·√0.0034 + 0.25·0.17.
func TestMeanByHand(t *testing.T) {
	a := cjs.Estimate{Value: 0.4, SE: 0.03, Low: 0.35, High: 0.46, Status: cjs.Estimated}
	b := cjs.Estimate{Value: 0.6, SE: 0.08, Low: 0.44, High: 0.74, Status: cjs.Estimated}
	se := 0.75*math.Sqrt(0.0034) + 0.25*0.17
	check := func(e cjs.Estimate) {
		// 1e-14: rounding.
		assert.InDelta(t, 0.45, e.Value, 1e-14)
		assert.InDelta(t, se, e.SE, 1e-14)
		factor := math.Exp(2 * se / (0.45 * 0.55))
		assert.InDelta(t, 1/(1+0.55/0.45*factor), e.Low, 1e-14)
		assert.InDelta(t, 1/(1+0.55/0.45/factor), e.High, 1e-14)
		assert.Equal(t, "logit", e.Method)
	}
	e := mean([]one{{0.75, a}, {0.25, b}}, 2)
	check(e)
	assert.Equal(t, cjs.Estimated, e.Status)
	// Weights of a part of the models count in proportion.
	b.Status = cjs.Borrowed
	e = mean([]one{{0.3, a}, {0.1, b}}, 2)
	check(e)
	assert.Equal(t, cjs.Borrowed, e.Status)
	// At a bound half the width of the interval over z stands for the SE:
	// (1 − 0.68)/4 = 0.08, and 1 is off by 0.3, 0.4 by the same.
	c := cjs.Estimate{Value: 1, SE: math.NaN(), Low: 0.68, High: 1, Status: cjs.Boundary}
	c.Method = "profile"
	e = mean([]one{{0.5, a}, {0.5, c}}, 2)
	assert.InDelta(t, 0.7, e.Value, 1e-14)
	assert.InDelta(t, 0.5*math.Hypot(0.03, 0.3)+0.5*math.Hypot(0.08, 0.3), e.SE, 1e-14)
}
