package cjs_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// TestPassedIsOfThoseThatEnterAbove: fish released at B itself say nothing of
// what passed B, nor of its profile limits.
func TestPassedIsOfThoseThatEnterAbove(t *testing.T) {
	h := counted(3, map[string]int{"111": 20, "110": 10, "101": 0, "100": 70})
	h.Entry, h.Seen, h.End = append(h.Entry, 1, 1), append(h.Seen, 0b10, 0), append(h.End, history.Open, history.Open)
	h.Count, h.Cohort = append(h.Count, 30, 20), append(h.Cohort, 0, 0)
	both := []model.Hold{{Reach: -1, Row: 0, Value: 1}, {Reach: -1, Row: 1, Value: 1}}
	f := mustFit(t, model.Input{Histories: h, Holds: both}, model.Spec{}, cjs.Options{Interval: "profile"})
	low, high := binomialLimits(30, 100, rise95)
	b, c := f.Passed[0], f.Passed[1]
	assert.Equal(t, [2]int{100, 150}, [2]int{b.Released, c.Released})
	assert.InDelta(t, 0.3, b.PassedShare.Value, 1e-8)
	assert.InDelta(t, low, b.PassedShare.Low, 1e-6)
	assert.InDelta(t, high, b.PassedShare.High, 1e-6)
	// 50 of the 80 that were at B came to C: (100·0.3 + 50)/150 of that.
	assert.InDelta(t, 80.0/150*50/80, c.PassedShare.Value, 1e-8)
}

// TestSeenShareLeavesOutTheRemoved: 60 of 100 are seen at B, 10 of them taken
// out there; 20 of the other 90 are seen at C.
func TestSeenShareLeavesOutTheRemoved(t *testing.T) {
	h := counted(3, map[string]int{"111": 15, "110": 35, "101": 5, "100": 35})
	h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, 1), append(h.End, history.Removed)
	h.Count, h.Cohort = append(h.Count, 10), append(h.Cohort, 0)
	f := mustFit(t, model.Input{Histories: h}, model.Spec{}, cjs.Options{})
	assert.Equal(t, cjs.Wilson(60, 100, z95).Low, f.Passed[0].SeenShare.Low)
	assert.InDelta(t, 20.0/90, f.Passed[1].SeenShare.Value, 1e-15)
	assert.Equal(t, [2]int{0, 10}, [2]int{f.Passed[0].Removed, f.Passed[1].Removed})
}

// TestWhatIsBorrowed: at the last site detection is borrowed where the sites
// share it, and so is survival before it and what passed; with test passes, or
// a held detection, nothing is.
func TestWhatIsBorrowed(t *testing.T) {
	h := counted(3, map[string]int{"111": 240, "110": 160, "101": 120, "100": 480})
	status := func(in model.Input, spec model.Spec) [5]cjs.Status {
		in.Histories = h
		f := mustFit(t, in, spec, cjs.Options{})
		last := f.Passed[1]
		return [5]cjs.Status{f.Survival[0].Status, f.Survival[1].Status, f.Detection[1].Status, last.PassedShare.Status, last.Detection.Status}
	}
	e, b, held := cjs.Estimated, cjs.Borrowed, cjs.Held
	shared := model.Spec{Detection: "same"}
	assert.Equal(t, [5]cjs.Status{e, b, b, b, b}, status(model.Input{}, shared))
	assert.Equal(t, [5]cjs.Status{e, e, e, e, e}, status(model.Input{TestPasses: []model.TestPasses{{Row: 1, Passes: 50, Read: 40}}}, shared))
	assert.Equal(t, [5]cjs.Status{e, e, e, e, e}, status(model.Input{TestPasses: []model.TestPasses{{Row: 1, Passes: 50, Read: 40}}}, model.Spec{}))
	assert.Equal(t, [5]cjs.Status{e, e, held, e, held}, status(model.Input{Holds: []model.Hold{{Reach: -1, Row: 1, Value: 0.8}}}, model.Spec{}))
}

// TestFishAtABoundAreNotKnownBetter: where a survival is at 1 the covariance
// takes it as known; the interval of the fish that passed is never narrower
// than the one on the logit of the unknown share by that covariance.
func TestFishAtABoundAreNotKnownBetter(t *testing.T) {
	// M_B = 80 + 80·35/30 = 173 of 150, M_C = 42 + 42·23/22 = 86.
	h := counted(4, map[string]int{"1111": 10, "1110": 10, "1101": 10, "1100": 50, "1011": 12, "1010": 10, "1001": 13, "1000": 35})
	f := mustFit(t, model.Input{Histories: h}, model.Spec{}, cjs.Options{Interval: "logit"})
	require.Equal(t, cjs.Boundary, f.Survival[0].Status)
	row := f.Passed[1]
	e := row.PassedFish
	unknown := float64(row.Released - row.KnownPassed)
	known := float64(row.KnownPassed)
	share := (e.Value - known) / unknown
	require.True(t, share > 0 && share < 1)
	low, high := logitLimits(share, e.SE/unknown, z95)
	assert.LessOrEqual(t, e.Low, known+unknown*low+1e-9)
	assert.GreaterOrEqual(t, e.High, known+unknown*high-1e-9)
	assert.Greater(t, e.High-e.Low, unknown*(high-low)*1.01)
	assert.GreaterOrEqual(t, e.Low, known)
	assert.LessOrEqual(t, e.High, known+unknown)
}

// TestPassedIsByWhatSurvivalDiffersBy: the table has a row for all fish, each
// cohort, and each group that survival tells apart, not those of detection.
func TestPassedIsByWhatSurvivalDiffersBy(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t, "dipper.toml")
	groups := func(survival, detection string) []string {
		f := mustFit(t, in, model.Spec{Survival: survival, Detection: detection}, cjs.Options{})
		var out []string
		for _, row := range f.Passed {
			if row.Site != 1 {
				continue
			}
			name := ""
			for _, c := range row.Of {
				name += c.Name + " " + c.Level
			}
			out = append(out, name)
		}
		return out
	}
	assert.Equal(t, []string{"", "sex female", "sex male"}, groups("reach + sex", "same"))
	assert.Equal(t, []string{""}, groups("reach", "site + sex"))
}

// TestBetweenCohortsAtEachSite: at B as before; at C three quarters of those
// at B, and so three quarters of the spread.
func TestBetweenCohortsAtEachSite(t *testing.T) {
	var seen []map[string]int
	for _, n := range []int{20, 40, 52, 60, 80} {
		seen = append(seen, map[string]int{"111": n * 3 / 4, "110": n / 4, "100": 100 - n})
	}
	both := []model.Hold{{Reach: -1, Row: 0, Value: 1}, {Reach: -1, Row: 1, Value: 1}}
	f := mustFit(t, model.Input{Histories: cohorts(3, []string{"a", "b", "c", "d", "e"}, seen), Holds: both}, model.Spec{}, cjs.Options{})
	// Mean 0.504; squares 0.092416 + 0.010816 + 0.000256 + 0.009216 + 0.087616.
	sd := math.Sqrt(0.20032 / 4)
	assert.InDelta(t, sd, f.Passed[0].BetweenCohorts, 1e-8)
	assert.InDelta(t, 0.75*sd, f.Passed[1].BetweenCohorts, 1e-8)
}

// TestCoefficientPerSD: flood is 0, 1, 1, 0, 0, 0 over the six reaches: its
// standard deviation is √((2 − 4/6)/5).
func TestCoefficientPerSD(t *testing.T) {
	in := dipper(t, "dipper.toml")
	f := mustFit(t, in, model.Spec{Survival: "flood", Detection: "same"}, cjs.Options{})
	c := f.Coefficients[1]
	require.Equal(t, "flood", c.Term)
	logit := likelihood.LogitOf(f.Survival[1].Value) - likelihood.LogitOf(f.Survival[0].Value)
	assert.InDelta(t, logit, c.Estimate, 1e-9)
	sd := math.Sqrt((2 - 4.0/6) / 5)
	assert.InDelta(t, logit*sd, c.PerSD, 1e-9)
	// Detection of males at 1983 is 1: its coefficient is at a bound.
	f = mustFit(t, in, model.Spec{Survival: "same", Detection: "site by sex"}, cjs.Options{})
	bounds := map[string]bool{}
	for _, c := range f.Coefficients {
		if c.Status == cjs.Boundary {
			bounds[c.Term] = true
			assert.True(t, math.IsNaN(c.Estimate) && math.IsNaN(c.SE))
		}
	}
	assert.Equal(t, map[string]bool{"site 1983 by sex male": true, "site 1987 by sex male": true}, bounds)
}

// TestEstimatesAreOfMeanFish: the number behind an estimate is the fish's mean.
func TestEstimatesAreOfMeanFish(t *testing.T) {
	f := missingSize(0, "")(t)
	at := f.Survival[0].At
	require.Len(t, at, 1)
	assert.Equal(t, "size", at[0].Name)
	assert.InDelta(t, 2.5, at[0].Value, 1e-12) // 0 to 5, ten of each
	assert.Empty(t, f.Detection[0].At)
}

// TestTooEarlyRule: no point is given where the expected standard error on the
// logit scale is not below 0.3, and it is the day that makes it so: with all
// migrants come it would be lower by 1.25 or more. Both are had from the
// expected information of the releases, now and in a century.
func TestTooEarlyRule(t *testing.T) {
	told := map[bool]int{}
	for _, c := range []struct {
		day  float64
		fish int
	}{{6, 250}, {6.5, 60}, {7, 250}, {8, 250}, {11, 60}} {
		day, fish := c.day, c.fish
		p, err := model.Build(smallSeason(fish, day), model.Spec{Survival: "reach"})
		require.NoError(t, err)
		f, err := cjs.New(t.Context(), p, cjs.Options{Interval: "logit"})
		require.NoError(t, err)
		a := seasonOf(f.X)
		releases := p.Releases()
		se := func(j int) float64 {
			info := likelihood.ExpectedInformation(p.Design, f.X, releases, nil)
			s, ok := linear.Decompose(info, 4)
			require.True(t, ok)
			c, g := s.Inverse(1e-9), []float64{a.s * (1 - a.s), 0, 0, 0}
			v := a.s
			if j == 1 {
				v = a.s * a.t
				g = []float64{v * (1 - a.s), v * (1 - a.t), 0, 0}
			}
			var sum float64
			for i := range g {
				for k := range g {
					sum += g[i] * c[4*i+k] * g[k]
				}
			}
			return math.Sqrt(sum) / (v * (1 - v))
		}
		now := [2]float64{se(0), se(1)}
		for i := range releases {
			releases[i].Days = 36500
		}
		late := [2]float64{se(0), se(1)}
		for j, row := range f.Passed {
			byDay := now[j] >= 1.25*late[j]
			want := now[j] >= 0.3 && byDay
			assert.Equal(t, want, row.PassedShare.Status == cjs.TooEarly, "day %v, %d fish, site %d: %.3f now, %.3f late", day, fish, j+1, now[j], late[j])
			told[want]++
			if !want && byDay {
				assert.Equal(t, "profile", row.PassedShare.Method)
			}
			if !byDay {
				assert.Equal(t, "logit", row.PassedShare.Method)
			}
		}
	}
	assert.Equal(t, 2, told[true])
	assert.Equal(t, 8, told[false])
}

// TestTooEarlyAtABound: all fish that are left were seen at B, so survival to
// it comes out as 1. While more than one in a hundred may still come to C that
// is put down to the day; when all have come it is said.
func TestTooEarlyAtABound(t *testing.T) {
	for day, want := range map[float64]cjs.Status{11: cjs.TooEarly, 60: cjs.Boundary} {
		in := smallSeason(200, day)
		h := in.Histories
		var keep []int
		for i := range h.Seen {
			if h.Seen[i] != 0 {
				keep = append(keep, i)
			}
		}
		in.Histories = h.Pick(keep)
		f := fitting(in.Histories, in, model.Spec{Survival: "reach"})(t)
		assert.Equal(t, want, f.Passed[0].PassedShare.Status, "day %v", day)
		assert.Equal(t, "profile", f.Passed[0].PassedShare.Method)
	}
}

// TestOneFishTells: a single fish seen at B and at large afterwards is enough
// for the design to tell what is below; without it A's fish tell three of the
// five values, and those at C one.
func TestOneFishTells(t *testing.T) {
	counts := map[string]int{"1110": 1, "1101": 0, "1011": 30, "1010": 20, "1001": 30, "1000": 100}
	f := plainly(4, counts)(t)
	assert.Equal(t, 6, f.Parameters)
	assert.Equal(t, 5, f.Estimable)
	counts["1110"] = 0
	assert.Equal(t, 4, plainly(4, counts)(t).Estimable)
}

// TestNearlyAlikeNumbersAreTold: two numbers that differ by a hundredth of
// their spread are hard to tell apart, and are told.
func TestNearlyAlikeNumbersAreTold(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}}}}
	a, b := history.Column{Name: "a"}, history.Column{Name: "b"}
	for i := range 400 {
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, uint64(i*i%7%2))
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
		a.Value = append(a.Value, float64(i%20))
		b.Value = append(b.Value, float64(i%20)+0.06*float64(i%3-1))
	}
	h.Columns = []history.Column{a, b}
	f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{Survival: "a + b"}, cjs.Options{})
	assert.Equal(t, [2]int{3, 3}, [2]int{f.Estimable, f.EstimableHere})
	for _, c := range f.Coefficients {
		assert.Equal(t, cjs.Estimated, c.Status, c.Term)
	}
	// Their common part is known a hundredfold better than their difference.
	assert.Greater(t, f.Coefficients[1].SE, 20*math.Sqrt(f.Covariance[0])/f.Problem.Numbers[0].SD)
}

// TestOpenEnd: 30 of 100 fish are seen, and of two test passes one is read. That
// all passed and 0.3 of them were seen is well within the data: −2 ln L of the
// passes rises by 2 ln(0.25/0.21) only. So the upper end is open, at 1; the
// lower one is where p is so high that the miss is unlikely: with S at its
// lower end below θ = 0.3 the fish weigh in too.
func TestOpenEnd(t *testing.T) {
	h := counted(2, map[string]int{"11": 30, "10": 70})
	tests := []model.TestPasses{{Row: 0, Passes: 2, Read: 1}}
	f := mustFit(t, model.Input{Histories: h, TestPasses: tests}, model.Spec{}, cjs.Options{Interval: "profile"})
	// −ln L with S given, the best p by golden section.
	best := func(s float64) (least, at float64) {
		loss := func(p float64) float64 {
			return -(30*math.Log(s*p) + 70*math.Log(1-s*p) + math.Log(p) + math.Log(1-p))
		}
		a, b, g := 1e-9, 1-1e-9, (math.Sqrt(5)-1)/2
		for range 200 {
			if c, d := b-g*(b-a), a+g*(b-a); loss(c) < loss(d) {
				b = d
			} else {
				a = c
			}
		}
		return loss((a + b) / 2), (a + b) / 2
	}
	top, _ := best(0.6)
	in, out := 0.6, 0.01
	for range 100 {
		m := (in + out) / 2
		if v, _ := best(m); 2*(v-top) > rise95 {
			out = m
		} else {
			in = m
		}
	}
	row := f.Passed[0]
	assert.InDelta(t, 0.6, row.PassedShare.Value, 1e-8)
	assert.InDelta(t, in, row.PassedShare.Low, 1e-6)
	assert.Equal(t, 1.0, row.PassedShare.High)
	// The number of fish reaches at least from what it would be at one limit
	// of the share to what it would be at the other.
	_, p := best(in)
	assert.LessOrEqual(t, row.PassedFish.Low, 30+70*in*(1-p)/(1-in*p)+1e-4)
	assert.GreaterOrEqual(t, row.PassedFish.Low, 30.0)
	assert.InDelta(t, 100, row.PassedFish.High, 0.01)
}

// TestRateAtItsBound: on the link of a rate per km all of 20 fish are at the
// bound as on the logit, with the limits of a binomial; so are none, and seven.
func TestRateAtItsBound(t *testing.T) {
	for _, x := range []int{0, 7, 20} {
		h := counted(2, map[string]int{"11": x, "10": 20 - x})
		h.River.Sites[0].Km, h.River.Sites[1].Km = 30, 0
		f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{SurvivalLink: "per km"}, cjs.Options{Interval: "profile"})
		low, high := binomialLimits(float64(x), 20, rise95)
		e := f.Survival[0].Estimate
		assert.InDelta(t, float64(x)/20, e.Value, 1e-8)
		assert.InDelta(t, low, e.Low, 1e-6)
		assert.InDelta(t, high, e.High, 1e-6)
		assert.Equal(t, x == 7, e.Status == cjs.Estimated)
		assert.Equal(t, x != 7, e.Status == cjs.Boundary)
	}
}

// TestReadRateAtItsBound: detection on the complementary log-log is at its bound
// where all or none of 20 fish were detected, with the limits of a binomial.
func TestReadRateAtItsBound(t *testing.T) {
	alive := []model.Hold{{Reach: 0, Row: -1, Value: 1}}
	for _, x := range []int{0, 7, 20} {
		h := counted(2, map[string]int{"11": x, "10": 20 - x})
		f := mustFit(t, model.Input{Histories: h, Holds: alive}, model.Spec{DetectionLink: "cloglog"}, cjs.Options{Interval: "profile"})
		low, high := binomialLimits(float64(x), 20, rise95)
		e := f.Detection[0].Estimate
		assert.InDelta(t, float64(x)/20, e.Value, 1e-8)
		assert.InDelta(t, low, e.Low, 1e-6)
		assert.InDelta(t, high, e.High, 1e-6)
		assert.Equal(t, x != 7, e.Status == cjs.Boundary)
	}
}

// TestRatioOfABorrowedShare: where one of two shares is borrowed so is their ratio.
func TestRatioOfABorrowedShare(t *testing.T) {
	fish := map[string]int{"111": 240, "110": 160, "101": 120, "100": 480}
	h := cohorts(3, []string{"early", "late"}, []map[string]int{fish, fish})
	hold := []model.Hold{{Reach: -1, Row: 1, Value: 0.8, Where: map[string]string{"cohort": "late"}}}
	f := mustFit(t, model.Input{Histories: h, Holds: hold}, model.Spec{Detection: "same"}, cjs.Options{})
	r, err := f.RelativePassed("late", "early", 2)
	require.NoError(t, err)
	assert.Equal(t, cjs.Borrowed, r.Status)
	r, err = f.RelativePassed("late", "early", 1)
	require.NoError(t, err)
	assert.Equal(t, cjs.Estimated, r.Status)
	_, err = f.RelativePassed("late", "nobody", 1)
	assert.Error(t, err)
}

// TestRatiosGoByTheirOwnLink: a rate of survival and odds of detection.
func TestRatiosGoByTheirOwnLink(t *testing.T) {
	fish := map[string]int{"111": 240, "110": 160, "101": 120, "100": 480}
	h := cohorts(3, []string{"early", "late"}, []map[string]int{fish, {"111": 120, "110": 180, "101": 100, "100": 400}})
	for k := range h.River.Sites {
		h.River.Sites[k].Km = float64(20 - 10*k)
	}
	f := mustFit(t, model.Input{Histories: h, Holds: []model.Hold{{Reach: -1, Row: 1, Value: 0.7}}},
		model.Spec{Survival: "reach + cohort", Detection: "site + cohort", SurvivalLink: "per km"}, cjs.Options{})
	e, err := f.Effects(t.Context())
	require.NoError(t, err)
	kinds := map[model.Part]string{}
	for _, r := range e.Ratios {
		kinds[r.Part] = r.Kind
	}
	assert.Equal(t, map[model.Part]string{model.Survival: "rate ratio", model.Detection: "odds ratio"}, kinds)
}

// TestRowsAreTestedOnFishFromAbove: fish released at the divided site itself
// never passed its rows, and those seen nowhere below may not have.
func TestRowsAreTestedOnFishFromAbove(t *testing.T) {
	h := threeRows(26, false)
	h.Entry, h.Seen, h.End = append(h.Entry, 1, 0), append(h.Seen, 1<<3, 0b011), append(h.End, history.Open, history.Open)
	h.Count, h.Cohort = append(h.Count, 40, 7), append(h.Cohort, 0, 0)
	f := fitting(h, model.Input{}, model.Spec{})(t)
	require.Len(t, f.RowTests, 2)
	r := f.RowTests[0]
	assert.Equal(t, [4]int{26, 12, 12, 20}, [4]int{r.Both, r.OnlyA, r.OnlyB, r.Neither})
	assert.Equal(t, [3]int{1, 0, 1}, [3]int{r.Site, r.RowA, r.RowB})
	// The third row saw half of each.
	r = f.RowTests[1]
	assert.Equal(t, [3]int{1, 1, 2}, [3]int{r.Site, r.RowA, r.RowB})
	assert.Equal(t, [4]int{19, 19, 16, 16}, [4]int{r.Both, r.OnlyA, r.OnlyB, r.Neither})
	assert.InDelta(t, 1, r.P, 1e-12)
}

// TestClosedFormOfTheLastProduct: of 45 fish released at B or seen there and
// let go, 20 were seen at C.
func TestClosedFormOfTheLastProduct(t *testing.T) {
	p, err := model.Build(model.Input{Histories: counted(3, map[string]int{"111": 20, "110": 25, "101": 10, "100": 45})}, model.Spec{})
	require.NoError(t, err)
	tally := p.Sum(nil)
	c := model.NewClosedForm(&tally)
	assert.InDelta(t, 20.0/45, c.Last, 1e-15)
	// M = 45 + 45·10/20 = 67.5.
	assert.InDelta(t, 45/67.5, c.Detection[1], 1e-15)
	assert.InDelta(t, 0.675, c.Survival[0], 1e-15)
}

// TestNoMoreFishThanThereWere: five of six were seen, and twenty of twenty test
// passes read: at most one more passed, whatever chance adds.
func TestNoMoreFishThanThereWere(t *testing.T) {
	h := counted(2, map[string]int{"11": 5, "10": 1})
	for _, interval := range []string{"profile", "logit", "auto"} {
		f := mustFit(t, model.Input{Histories: h, TestPasses: []model.TestPasses{{Row: 0, Passes: 20, Read: 20}}}, model.Spec{}, cjs.Options{Interval: interval})
		e := f.Passed[0].PassedFish
		assert.InDelta(t, 5, e.Value, 1e-6)
		assert.GreaterOrEqual(t, e.Low, 5.0)
		assert.Greater(t, e.High, 5.01, interval)
		assert.LessOrEqual(t, e.High, 6.0)
	}
}

// TestEachFishCountsOnce: 60 fish of 60 sizes, detection perfect: −2 ln L is
// that of a logistic regression, Σ of ln S of those seen and ln(1 − S) of the
// others, at its maximum the scores Σ(seen − S) and Σ(seen − S)z are zero.
func TestEachFishCountsOnce(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}}}}
	size := history.Column{Name: "size"}
	for i := range 60 {
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, uint64(i*7%5%2))
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
		size.Value = append(size.Value, float64(i)+0.25*float64(i%4))
	}
	h.Columns = []history.Column{size}
	f := mustFit(t, model.Input{Histories: h, Holds: perfect}, model.Spec{Survival: "size"}, cjs.Options{})
	var minusTwo, score, slope float64
	for i, z := range f.Problem.Z[0] {
		s := 1 / (1 + math.Exp(-f.X[0]-f.X[1]*z))
		y := float64(h.Seen[i])
		minusTwo -= 2 * (y*math.Log(s) + (1-y)*math.Log(1-s))
		score += y - s
		slope += (y - s) * z
	}
	assert.InDelta(t, minusTwo, f.MinusTwoLogLikelihood, 1e-9)
	assert.InDelta(t, 0, score, 1e-6)
	assert.InDelta(t, 0, slope, 1e-6)
}

// TestPassedFishBySharedDetection: three sites, one detection p = 1 − q for
// both. A fish last seen at A passed B with S q χ_B/χ_A and C with S q T q/χ_A,
// one last seen at B passed C with T q/χ_B, where χ_B = 1 − T p, χ_A = 1 − S +
// S q χ_B. The part of the spread from the parameters is by differences.
func TestPassedFishBySharedDetection(t *testing.T) {
	h := counted(3, map[string]int{"111": 60, "110": 90, "101": 40, "100": 160})
	f := mustFit(t, model.Input{Histories: h}, model.Spec{Detection: "same"}, cjs.Options{Interval: "logit"})
	require.Len(t, f.X, 3)
	expit := func(v float64) float64 { return 1 / (1 + math.Exp(-v)) }
	sum := func(k int) func(x []float64) float64 {
		return func(x []float64) float64 {
			s, u, q := expit(x[0]), expit(x[1]), 1-expit(x[2])
			b := 1 - u*(1-q)
			a := 1 - s + s*q*b
			if k == 1 {
				return 160 * s * q * b / a
			}
			return 160*s*q*u*q/a + 90*u*q/b
		}
	}
	for k, known := range map[int]float64{1: 190, 2: 100} {
		e := f.Passed[k-1].PassedFish
		assert.InDelta(t, known+sum(k)(f.X), e.Value, 1e-8)
		s, u, q := expit(f.X[0]), expit(f.X[1]), 1-expit(f.X[2])
		b := 1 - u*(1-q)
		a := 1 - s + s*q*b
		own := 160 * (s * q * b / a) * (1 - s*q*b/a)
		if k == 2 {
			own = 160*(s*q*u*q/a)*(1-s*q*u*q/a) + 90*(u*q/b)*(1-u*q/b)
		}
		// 1e-5: differences.
		assert.InDelta(t, math.Hypot(spreadOf(f, sum(k)), math.Sqrt(own)), e.SE, 1e-5)
	}
}

// TestMeansWeighByFish: 30 early and 160 late fish, in records of several; the
// share of all is theirs weighed by fish, not by records.
func TestMeansWeighByFish(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"early", "late"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}, {Name: "C"}}}}
	size := history.Column{Name: "size"}
	for cohort, counts := range [][]int32{{4, 3, 2, 6, 3, 5, 2, 5}, {15, 30, 10, 20, 15, 20, 30, 20}} {
		for i, n := range counts {
			h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, uint64(i%4))
			h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, int32(cohort))
			h.Count = append(h.Count, n)
			size.Value = append(size.Value, float64(i/4))
		}
	}
	h.Columns = []history.Column{size}
	f := mustFit(t, model.Input{Histories: h}, model.Spec{Survival: "reach by cohort", Detection: "size"}, cjs.Options{})
	require.Equal(t, 190, f.Passed[0].Released)
	require.Equal(t, "late", f.Survival[2].Of[0].Level)
	assert.InDelta(t, (30*f.Survival[0].Value+160*f.Survival[2].Value)/190, f.Passed[0].PassedShare.Value, 1e-12)
}

// TestAICcByHand: 100 + 2·4 + 2·4·5/(6 − 5) = 148; of five releases four
// parameters leave nothing to divide by.
func TestAICcByHand(t *testing.T) {
	assert.InDelta(t, 148, cjs.AICc(100, 4, 6), 1e-12)
	assert.True(t, math.IsNaN(cjs.AICc(100, 4, 5)))
	assert.True(t, math.IsNaN(cjs.AICc(100, 4, 4)))
}

// TestOneNearItsBoundKeepsNoOtherFromIts: detection is 0.5. 499,960 of 1,000,000
// fish of a were detected, so that survival is 0.99992 and no more; 25 of 50 of b
// and 60 of 100 of c, so that theirs is 1.
func TestOneNearItsBoundKeepsNoOtherFromIts(t *testing.T) {
	h := cohorts(2, []string{"a", "b", "c"}, []map[string]int{{"11": 499960, "10": 500040}, {"11": 25, "10": 25}, {"11": 60, "10": 40}})
	f := mustFit(t, model.Input{Histories: h, Holds: []model.Hold{{Reach: -1, Row: 0, Value: 0.5}}}, model.Spec{Survival: "reach by cohort"}, cjs.Options{})
	assert.InDelta(t, 0.99992, f.Survival[0].Estimate.Value, 1e-8) // the maximum to its flatness
	assert.Equal(t, cjs.Estimated, f.Survival[0].Status)
	assert.Equal(t, cjs.Boundary, f.Survival[1].Status)
	assert.Equal(t, cjs.Boundary, f.Survival[2].Status)
	assert.Equal(t, f.Estimable, f.EstimableHere)
}
