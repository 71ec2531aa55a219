package cjs_test

import (
	"context"
	"fmt"
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// halfDigit is half a unit in the last of n printed decimals.
func halfDigit(n int) float64 { return 0.5000001 * math.Pow(10, -float64(n)) }

func mustFit(t testing.TB, in model.Input, spec model.Spec, opt cjs.Options) *cjs.Fit {
	t.Helper()
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, opt)
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// TestDipperTwoWays: where every reach and site has a value of its own the
// search and the closed form are two ways to the same number.
func TestDipperTwoWays(t *testing.T) {
	f := mustFit(t, dipper(t, "dipper.toml"), model.Spec{Survival: "reach", Detection: "site"}, cjs.Options{})
	for k := range 5 {
		assert.InDelta(t, f.Survival[k].Raw, f.Survival[k].Value, 1e-9)
	}
	require.Len(t, f.Products, 1)
	assert.Equal(t, 11, f.Estimable)
	assert.Equal(t, 426, f.EffectiveSample)
}

// TestDipperProfileIntervals: profile likelihood limits by SciPy, checked with
// R's uniroot (testdata/published/lebreton1992/profile_intervals.json).
func TestDipperProfileIntervals(t *testing.T) {
	var want map[string]any
	readJSON(t, dipperFolder+"profile_intervals.json", &want)
	limits := func(model, name string) [2]float64 {
		v := want[model].(map[string]any)[name].([]any)
		return [2]float64{v[0].(float64), v[1].(float64)}
	}
	in := dipper(t, "dipper.toml")
	check := func(w [2]float64, e cjs.Estimate) {
		assert.Equal(t, "profile", e.Method)
		assert.InDelta(t, w[0], e.Low, 1e-6)
		assert.InDelta(t, w[1], e.High, 1e-6)
	}
	f := mustFit(t, in, model.Spec{Survival: "same", Detection: "same"}, cjs.Options{Interval: "profile"})
	check(limits("survival: same, detection: same", "phi"), f.Survival[0].Estimate)
	check(limits("survival: same, detection: same", "p"), f.Detection[0].Estimate)
	f = mustFit(t, in, model.Spec{Survival: "flood", Detection: "same"}, cjs.Options{Interval: "profile"})
	check(limits("survival: flood, detection: same", "phi_nonflood"), f.Survival[0].Estimate)
	check(limits("survival: flood, detection: same", "phi_flood"), f.Survival[1].Estimate)
	check(limits("survival: flood, detection: same", "p"), f.Detection[0].Estimate)
}

// TestDipperFromNextSeenTable: the next-seen table carries all the information.
func TestDipperFromNextSeenTable(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	histories, pooled := dipper(t, "dipper.toml"), dipper(t, "dipper_next_seen.toml")
	for _, spec := range []model.Spec{{Survival: "same", Detection: "same"}, {Survival: "reach", Detection: "site"}, {Survival: "flood", Detection: "site"}} {
		a, b := mustFit(t, histories, spec, cjs.Options{}), mustFit(t, pooled, spec, cjs.Options{})
		assert.InDelta(t, a.MinusTwoLogLikelihood, b.MinusTwoLogLikelihood, 1e-9)
		require.Equal(t, len(a.Passed), len(b.Passed))
		for i := range a.Survival {
			assert.InDelta(t, a.Survival[i].Value, b.Survival[i].Value, 1e-8)
			if a.Survival[i].Status != cjs.Inseparable {
				assert.InDelta(t, a.Survival[i].SE, b.Survival[i].SE, 1e-8)
			}
		}
		assert.Equal(t, a.AICc, b.AICc)
		for i := range a.Passed {
			assert.Equal(t, a.Passed[i].Released, b.Passed[i].Released)
			assert.Equal(t, a.Passed[i].Seen, b.Passed[i].Seen)
			assert.Equal(t, a.Passed[i].KnownPassed, b.Passed[i].KnownPassed)
		}
	}
	bySex := dipper(t, "dipper_next_seen_by_sex.toml")
	a := mustFit(t, histories, model.Spec{Survival: "reach by sex", Detection: "site by sex"}, cjs.Options{})
	b := mustFit(t, bySex, model.Spec{Survival: "reach by cohort", Detection: "site by cohort"}, cjs.Options{})
	assert.InDelta(t, a.MinusTwoLogLikelihood, b.MinusTwoLogLikelihood, 1e-9)
}

type closedForm struct {
	Inputs struct {
		CJS3 struct{ R, H111, H110, H101, H100 int }
		CJS4 struct {
			R      int
			Counts map[string]int
		}
		TwoRow struct {
			Up   int `json:"up_only"`
			Down int `json:"down_only"`
			Both int
		} `json:"two_row"`
	}
	Values struct {
		CJS3 struct{ P1, S1, Lambda float64 }
		CJS4 struct {
			Phi, P   []float64
			PhiSE    []float64 `json:"phi_se"`
			PSE      []float64 `json:"p_se"`
			Lambda   float64
			LambdaSE float64 `json:"lambda_se"`
			Cov      float64 `json:"cov_phi1_phi2"`
			Next     [][]int `json:"m"`
			R        []int
			Product  float64 `json:"S_product"`
			SE       float64 `json:"S_product_se_with_cov"`
			NoCov    float64 `json:"S_product_se_ignoring_cov"`
			Minus2   float64 `json:"neg2lnL"`
		}
		TwoRow struct {
			Up     float64 `json:"p_up"`
			UpSE   float64 `json:"p_up_se"`
			Down   float64 `json:"p_down"`
			DownSE float64 `json:"p_down_se"`
			Site   float64 `json:"p_site"`
			N      float64 `json:"N_passed_LP"`
		} `json:"two_row"`
	}
}

// counted makes histories from strings of 0 and 1 (first site first) with counts.
func counted(sites int, counts map[string]int) *history.Histories {
	h := &history.Histories{Cohorts: []string{"all"}}
	for k := range sites {
		h.River.Sites = append(h.River.Sites, history.Site{Name: string(rune('A' + k)), Km: math.NaN(), Days: math.NaN()})
	}
	for s, n := range counts {
		var seen uint64
		for k := 1; k < sites; k++ {
			if s[k] == '1' {
				seen |= 1 << uint(k-1)
			}
		}
		h.Entry = append(h.Entry, 0)
		h.Seen = append(h.Seen, seen)
		h.End = append(h.End, history.Open)
		h.Count = append(h.Count, int32(n))
		h.Cohort = append(h.Cohort, 0)
	}
	return h
}

// TestClosedFormExamples: constructed counts with values by the closed-form
// expressions (testdata/published/closed_form/SOURCE.md).
func TestClosedFormExamples(t *testing.T) {
	var c closedForm
	readJSON(t, "../testdata/published/closed_form/closed_form.json", &c)
	i3, v3 := c.Inputs.CJS3, c.Values.CJS3
	f := mustFit(t, model.Input{Histories: counted(3, map[string]int{"111": i3.H111, "110": i3.H110, "101": i3.H101, "100": i3.H100})}, model.Spec{}, cjs.Options{})
	// 1e-9: both are exact but for rounding.
	assert.InDelta(t, v3.S1, f.Survival[0].Value, 1e-9)
	assert.InDelta(t, v3.P1, f.Detection[0].Value, 1e-9)
	assert.InDelta(t, v3.Lambda, f.Products[0].Value, 1e-9)

	v4 := c.Values.CJS4
	// The source's standard errors carry a differencing error of up to 6e-9:
	// the same delta method with exact derivatives agrees with ours to 1e-13.
	const sourceSE = 1e-8
	f = mustFit(t, model.Input{Histories: counted(4, c.Inputs.CJS4.Counts)}, model.Spec{}, cjs.Options{})
	assert.InDelta(t, v4.Minus2, f.MinusTwoLogLikelihood, 1e-8)
	for k := range v4.Phi {
		assert.InDelta(t, v4.Phi[k], f.Survival[k].Value, 1e-9)
		assert.InDelta(t, v4.PhiSE[k], f.Survival[k].SE, sourceSE)
		assert.InDelta(t, v4.P[k], f.Detection[k].Value, 1e-9)
		assert.InDelta(t, v4.PSE[k], f.Detection[k].SE, sourceSE)
	}
	assert.InDelta(t, v4.Lambda, f.Products[0].Value, 1e-9)
	assert.InDelta(t, v4.LambdaSE, f.Products[0].SE, sourceSE)
	// Passed at the third site is the product of two survivals; its standard
	// error needs their covariance: .0199, not .0241.
	passed := f.Passed[1]
	assert.InDelta(t, v4.Product, passed.PassedShare.Value, 1e-9)
	assert.InDelta(t, v4.SE, passed.PassedShare.SE, sourceSE)
	assert.Equal(t, ".0199", printed(passed.PassedShare.SE))
	assert.Equal(t, ".0241", printed(v4.NoCov))
	// That covariance, from the one on the logit scale.
	by := func(k int) float64 { return f.Survival[k].Value * (1 - f.Survival[k].Value) }
	assert.InDelta(t, v4.Cov, by(0)*by(1)*f.Covariance[1], sourceSE)
	// The table of releases and next sightings, the last entries of the rows.
	tally := f.Problem.Sum(nil)
	for i, next := range v4.Next {
		assert.Equal(t, v4.R[i], tally.Released[i])
		assert.Equal(t, next, tally.Next[i][i+1:])
	}
}

func printed(v float64) string { return fmt.Sprintf("%.4f", v)[1:] }

// TestTwoRows: two rows at one site are enough (testdata/published/closed_form:
// two_row, the classic two-sample estimate at the site).
func TestTwoRows(t *testing.T) {
	var c closedForm
	readJSON(t, "../testdata/published/closed_form/closed_form.json", &c)
	in, v := c.Inputs.TwoRow, c.Values.TwoRow
	const released = 1000
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"up", "down"}}}}}
	for seen, n := range []int{released - in.Up - in.Down - in.Both, in.Up, in.Down, in.Both} {
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, uint64(seen)), append(h.End, history.Open)
		h.Count, h.Cohort = append(h.Count, int32(n)), append(h.Cohort, 0)
	}
	f := mustFit(t, model.Input{Histories: h}, model.Spec{}, cjs.Options{})
	require.Len(t, f.Detection, 3)
	// 1e-9: exact but for rounding.
	assert.InDelta(t, v.Up, f.Detection[0].Value, 1e-9)
	assert.InDelta(t, v.UpSE, f.Detection[0].SE, 1e-9)
	assert.InDelta(t, v.Down, f.Detection[1].Value, 1e-9)
	assert.InDelta(t, v.DownSE, f.Detection[1].SE, 1e-9)
	assert.InDelta(t, v.Site, f.Detection[2].Value, 1e-9)
	assert.InDelta(t, v.N, released*f.Passed[0].PassedShare.Value, 1e-6)
	assert.InDelta(t, v.N, f.Passed[0].PassedFish.Value, 1e-6)
	assert.GreaterOrEqual(t, f.Passed[0].PassedFish.Low, float64(in.Up+in.Down+in.Both))
	assert.Equal(t, cjs.Estimated, f.Passed[0].PassedShare.Status)
	require.Len(t, f.RowTests, 1)
	assert.NotEmpty(t, f.RowTests[0].Why)
}

// TestLogitInterval: Modde, Burnham & Wick 1996, Conservation Biology
// 10:110–119, p. 114: 0.708 (SE 0.0246) → 0.658 to 0.754.
func TestLogitInterval(t *testing.T) {
	low, high, method := cjs.Interval(0.708, 0.0246, 1.959963984540054)
	assert.Equal(t, "logit", method)
	assert.InDelta(t, 0.658, low, halfDigit(3))
	assert.InDelta(t, 0.754, high, halfDigit(3))
}

// TestKnownPassers: Beeman, Hayes & Wright 2012 (U.S. Geological Survey
// Open-File Report): of 23 fish that radio tags showed to have passed an array
// it saw one: detection 0.043 (0.042).
func TestKnownPassers(t *testing.T) {
	var c struct {
		Klamath struct {
			Passed    int `json:"known_passed_radio"`
			Seen      int `json:"detected_pit_of_known"`
			Published struct{ P, SE float64 }
		} `json:"klamath_pit_beeman2012"`
	}
	readJSON(t, "../testdata/published/published_small/published_small.json", &c)
	k := c.Klamath
	h := counted(2, map[string]int{"11": k.Seen, "10": k.Passed - k.Seen})
	f := mustFit(t, model.Input{Histories: h, Holds: []model.Hold{{Reach: 0, Row: -1, Value: 1}}}, model.Spec{}, cjs.Options{})
	assert.InDelta(t, k.Published.P, f.Detection[0].Value, halfDigit(3))
	// √(22/23³) is .04252: printed cut, not rounded.
	assert.InDelta(t, k.Published.SE+0.0005, f.Detection[0].SE, halfDigit(3))
}

// TestWholeSiteDetection: Osmundson & Burnham 1998, Transactions of the
// American Fisheries Society 127:957–970, Table 4: p* = 1 − (1 − p)³.
func TestWholeSiteDetection(t *testing.T) {
	want := []float64{.254, .276, .300, .325}
	for i, p := range []float64{.093, .102, .112, .123} {
		h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"1", "2", "3"}}}},
			Entry: []uint8{0, 0}, Seen: []uint64{0, 1}, End: []history.End{history.Open, history.Open}, Cohort: []int32{0, 0}}
		var holds []model.Hold
		for row := range 3 {
			holds = append(holds, model.Hold{Reach: -1, Row: row, Value: p})
		}
		f := mustFit(t, model.Input{Histories: h, Holds: holds}, model.Spec{}, cjs.Options{})
		assert.InDelta(t, want[i], f.Detection[3].Value, halfDigit(3))
		assert.Equal(t, cjs.Held, f.Detection[3].Status)
	}
}

// TestWilson: the score interval of 15 of 148, by SciPy
// (testdata/published/scipy/in_tests.py), to its last digit given.
func TestWilson(t *testing.T) {
	e := cjs.Wilson(15, 148, 1.959963984540054)
	assert.InDelta(t, 0.0623863995, e.Low, halfDigit(10))
	assert.InDelta(t, 0.1604872417, e.High, halfDigit(10))
}

// TestThreeFish works a likelihood in fractions. Three fish, three sites, one
// survival S, detection p at the second site, 1 at the third. Fish 111 has
// probability S·p·S, 101 S(1−p)·S, 100 1 − S(1 − (1−p)(1−S)) =
// (1−S)(1+S(1−p)), so with q = 1−p
//
//	L = S⁴ p q (1−S)(1+Sq)
//
// On the linear link the coefficients are S and p, and everything is rational.
func TestThreeFish(t *testing.T) {
	rat := func(a, b int64) *big.Rat { return big.NewRat(a, b) }
	mul := func(v ...*big.Rat) *big.Rat {
		out := rat(1, 1)
		for _, x := range v {
			out.Mul(out, x)
		}
		return out
	}
	sum := func(v ...*big.Rat) *big.Rat {
		out := new(big.Rat)
		for _, x := range v {
			out.Add(out, x)
		}
		return out
	}
	neg := func(a *big.Rat) *big.Rat { return new(big.Rat).Neg(a) }
	inv := func(a *big.Rat) *big.Rat { return new(big.Rat).Inv(a) }
	one := rat(1, 1)
	h := counted(3, map[string]int{"111": 1, "101": 1, "100": 1})
	hold := []model.Hold{{Reach: -1, Row: 1, Value: 1}}
	spec := model.Spec{Survival: "same", Detection: "same", SurvivalLink: "linear", DetectionLink: "linear"}
	p, err := model.Build(model.Input{Histories: h, Holds: hold}, spec)
	require.NoError(t, err)
	o := likelihood.NewCJS(p.Design, p.Data)
	check := func(s, d *big.Rat) (score [2]*big.Rat, info [3]*big.Rat) {
		q := sum(one, neg(d))
		rest := sum(one, mul(s, q))
		l := mul(s, s, s, s, d, q, sum(one, neg(s)), rest)
		score = [2]*big.Rat{
			sum(mul(rat(4, 1), inv(s)), neg(inv(sum(one, neg(s)))), mul(q, inv(rest))),
			sum(inv(d), neg(inv(q)), neg(mul(s, inv(rest))))}
		info = [3]*big.Rat{
			sum(mul(rat(4, 1), inv(mul(s, s))), inv(mul(sum(one, neg(s)), sum(one, neg(s)))), mul(q, q, inv(mul(rest, rest)))),
			inv(mul(rest, rest)),
			sum(inv(mul(d, d)), inv(mul(q, q)), mul(s, s, inv(mul(rest, rest))))}
		var pt likelihood.Point
		sf, _ := s.Float64()
		df, _ := d.Float64()
		o.Eval([]float64{sf, df}, 2, &pt)
		lf, _ := l.Float64()
		// 1e-12: float64 against exact fractions.
		assert.InDelta(t, math.Log(lf), pt.F, 1e-12)
		for i, want := range score {
			w, _ := want.Float64()
			assert.InDelta(t, w, pt.G[i], 1e-12)
		}
		for i, want := range []*big.Rat{info[0], info[1], info[1], info[2]} {
			w, _ := want.Float64()
			assert.InDelta(t, w, -pt.H[i], 1e-11)
		}
		return score, info
	}
	s, d := rat(1, 2), rat(1, 2)
	score, info := check(s, d)
	assert.Equal(t, "32/5", score[0].String())
	assert.Equal(t, "-2/5", score[1].String())
	assert.Equal(t, "504/25", info[0].String())
	assert.Equal(t, "204/25", info[2].String())
	assert.Equal(t, "16/25", info[1].String())
	// One exact Newton step.
	det := sum(mul(info[0], info[2]), neg(mul(info[1], info[1])))
	s = sum(s, mul(sum(mul(info[2], score[0]), neg(mul(info[1], score[1]))), inv(det)))
	d = sum(d, mul(sum(mul(info[0], score[1]), neg(mul(info[1], score[0]))), inv(det)))
	check(s, d)
	// With 110 for 100, L = S⁵ p² q (1−S): the maximum is S = 5/6, p = 2/3,
	// L = (5/6)⁵ (2/3)² (1/3) (1/6).
	h = counted(3, map[string]int{"111": 1, "101": 1, "110": 1})
	f := mustFit(t, model.Input{Histories: h, Holds: hold}, spec, cjs.Options{})
	assert.InDelta(t, 5.0/6, f.Survival[0].Value, 1e-12)
	assert.InDelta(t, 2.0/3, f.Detection[0].Value, 1e-12)
	assert.InDelta(t, math.Log(3125.0/7776*4/9/3/6), f.LogLikelihood, 1e-12)
	// Information there: 5/S² + 1/(1−S)² = 36/5 + 36 and 2/p² + 1/q² = 27/2.
	assert.InDelta(t, math.Sqrt(5.0/216), f.Survival[0].SE, 1e-12)
	assert.InDelta(t, math.Sqrt(2.0/27), f.Detection[0].SE, 1e-12)
}
