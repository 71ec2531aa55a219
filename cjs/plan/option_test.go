package plan_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
)

func apply(t testing.TB, p *plan.Plan, o plan.Option) *plan.Plan {
	t.Helper()
	q, err := p.Apply(&o)
	require.NoError(t, err)
	return q
}

// sameFigures: two plans with the same values at the same places.
func sameFigures(t testing.TB, want, got *plan.Plan) {
	t.Helper()
	a, b := forecast(t, want).Lines(), forecast(t, got).Lines()
	require.Len(t, b, len(a))
	for i := range a {
		assert.Equal(t, want.Name(&a[i]), got.Name(&b[i]))
		if math.IsNaN(a[i].Half) {
			assert.True(t, math.IsNaN(b[i].Half), want.Name(&a[i]))
			continue
		}
		// Rounding of survival to a power and back.
		assert.InDelta(t, a[i].Value, b[i].Value, 1e-9)
		assert.InDelta(t, a[i].Half, b[i].Half, 1e-9)
	}
}

// TestOptionsEqualPlansMadeByHand: a changed plan is the plan one would write.
func TestOptionsEqualPlansMadeByHand(t *testing.T) {
	base := single(400, []float64{0.8, 0.7, 0.85}, []float64{0.5, 0.4, 0.6})

	sameFigures(t, single(525, []float64{0.8, 0.7, 0.85}, []float64{0.5, 0.4, 0.6}), apply(t, base, plan.Option{What: "fish", Fish: 125}))
	sameFigures(t, single(400, []float64{0.8, 0.7, 0.85}, []float64{0.5, 0.9, 0.6}), apply(t, base, plan.Option{What: "antennas", Site: "Scar Weir", Detection: 0.9}))

	// Without Scar Weir its two reaches are one.
	hand := single(400, []float64{0.8, 0.7 * 0.85}, []float64{0.5, 0.6})
	hand.River.Sites[0].Km = 30
	sameFigures(t, hand, apply(t, base, plan.Option{What: "drop", Site: "Scar Weir"}))
	// Without Tidehead Scar Weir is the last.
	hand = single(400, []float64{0.8, 0.7}, []float64{0.5, 0.4})
	hand.River.Sites[2].Name = "Scar Weir"
	sameFigures(t, hand, apply(t, base, plan.Option{What: "drop", Site: "Tidehead"}))

	// A site 3 of the 10 km below Alder Ford, at the same mortality per km.
	with := apply(t, base, plan.Option{What: "site", Site: "Half Way", Km: 17, Detection: 0.3})
	hand = single(400, []float64{0.8, math.Pow(0.7, 0.3), math.Pow(0.7, 0.7), 0.85}, []float64{0.5, 0.3, 0.4, 0.6})
	hand.River = with.River
	assert.Equal(t, "Half Way", with.River.Sites[2].Name)
	sameFigures(t, hand, with)
	// Dropped again it leaves no trace.
	sameFigures(t, base, apply(t, with, plan.Option{What: "drop", Site: "Half Way"}))
	// Below the last site, with the mortality of the last reach.
	with = apply(t, base, plan.Option{What: "site", Site: "Out At Sea", Km: -5, Detection: 0.3, Survival: math.NaN()})
	hand = single(400, []float64{0.8, 0.7, 0.85, math.Sqrt(0.85)}, []float64{0.5, 0.4, 0.6, 0.3})
	hand.River = with.River
	sameFigures(t, hand, with)
	with = apply(t, base, plan.Option{What: "site", Site: "Out At Sea", Km: -5, Detection: 0.3, Survival: 0.2})
	hand = single(400, []float64{0.8, 0.7, 0.85, 0.2}, []float64{0.5, 0.4, 0.6, 0.3})
	hand.River = with.River
	sameFigures(t, hand, with)

	// Two rows of detection p are one of 1 − (1 − p)² for all that is not
	// about a row, above the last site where rows add nothing but that.
	with = apply(t, base, plan.Option{What: "row", Site: "Alder Ford", Detection: math.NaN()})
	one := line(t, forecast(t, with).Passed, 2, "")
	hand = single(400, []float64{0.8, 0.7, 0.85}, []float64{0.75, 0.4, 0.6})
	assert.Less(t, one.Half, line(t, forecast(t, base).Passed, 2, "").Half)
	assert.InDelta(t, line(t, forecast(t, hand).Passed, 2, "").Half, one.Half, 0.002)

	// Spread over two cohorts of 200: twice the parameters for survival.
	two := apply(t, base, plan.Option{What: "spread", Cohorts: 2})
	assert.Equal(t, []string{"all 1", "all 2"}, two.CohortNames())
	assert.Equal(t, 400, two.Fish())
	assert.Equal(t, 6+3, forecast(t, two).Parameters)
}

// TestOptionsMoveWhatSpeaksOfPlaces: holds, test passes, removal and entries
// stay with their reach, row and site.
func TestOptionsMoveWhatSpeaksOfPlaces(t *testing.T) {
	p := tworows()
	p.TestPasses = []model.TestPasses{{Row: 3, Passes: 50}} // Tidehead/row 2
	p.Holds = []model.Hold{{Reach: 2, Row: -1, Value: 0.85}, {Reach: -1, Row: 1, Value: 0.4, Where: map[string]string{"cohort": "late"}}}
	p.Removed = []float64{0, 0, 0.2, 0}
	p.Cohorts[1].Entry = 1

	q := apply(t, p, plan.Option{What: "site", Site: "Half Way", Km: 25, Detection: 0.3})
	assert.Equal(t, 4, q.TestPasses[0].Row)
	assert.Equal(t, 3, q.Holds[0].Reach)
	assert.Equal(t, 2, q.Holds[1].Row)
	assert.Equal(t, []float64{0, 0, 0, 0.2, 0}, q.Removed)
	assert.Equal(t, 2, q.Cohorts[1].Entry)
	forecast(t, q)

	// A held reach that a site parts is held in both parts.
	q = apply(t, p, plan.Option{What: "site", Site: "Half Way", Km: 5, Detection: 0.3})
	require.Len(t, q.Holds, 3)
	assert.InDelta(t, 0.85, q.Holds[0].Value*q.Holds[2].Value, 1e-12)
	assert.Equal(t, []int{2, 3}, []int{q.Holds[0].Reach, q.Holds[2].Reach})
	assert.Equal(t, 4, q.TestPasses[0].Row)

	q = apply(t, p, plan.Option{What: "row", Site: "Alder Ford", Detection: 0.3})
	assert.Equal(t, 4, q.TestPasses[0].Row)
	assert.Equal(t, 2, q.Holds[1].Row)
	forecast(t, q)

	q = apply(t, p, plan.Option{What: "spread", Cohorts: 2})
	assert.Len(t, q.Holds, 3)
	assert.Equal(t, "late 2", q.Holds[2].Where["cohort"])
	forecast(t, q)

	q = apply(t, p, plan.Option{What: "drop", Site: "Tidehead"})
	assert.Empty(t, q.TestPasses)
	assert.Len(t, q.Holds, 1)
	forecast(t, q)

	for o, why := range map[plan.Option]string{
		{What: "drop", Site: "Alder Ford"}:        "released there",
		{What: "drop", Site: "Scar Weir"}:         "survival is held",
		{What: "drop", Site: "Nowhere"}:           "no site",
		{What: "site", Site: "Above", Km: 99}:     "not below",
		{What: "site", Site: "On Top", Km: 10}:    "a site there already",
		{What: "magic"}:                           "no option",
		{What: "row", Site: "Mill Lade"}:          "below the first",
		{What: "site", Site: "Scar Weir", Km: 15}: "stands twice",
	} {
		_, err := p.Apply(&o)
		assert.ErrorContains(t, err, why)
	}
	// What is applied to a copy leaves the plan alone.
	assert.Len(t, p.River.Sites, 4)
	assert.Equal(t, []string{"row 1", "row 2"}, p.River.Sites[3].Rows)
}

func compare(t testing.TB, p *plan.Plan, target string, options []plan.Option) []plan.Comparison {
	t.Helper()
	f := forecast(t, p)
	w, err := p.ParseTarget(target)
	require.NoError(t, err)
	out, err := f.Compare(context.Background(), w, options)
	require.NoError(t, err)
	require.Len(t, out, len(options))
	return out
}

// TestCompareByFish: what an option is worth in fish is the number of further
// fish that bring the same half-width.
func TestCompareByFish(t *testing.T) {
	p := single(400, []float64{0.8, 0.7, 0.85}, []float64{0.5, 0.4, 0.6})
	got := compare(t, p, "passed at Scar Weir", p.StandardOptions())
	before := line(t, forecast(t, p).Passed, 2, "").Half
	previous := math.Inf(1)
	seen := map[string]bool{}
	for _, c := range got {
		seen[c.Option.What] = true
		if c.Why != "" {
			previous = math.Inf(-1) // these stand last
			continue
		}
		assert.LessOrEqual(t, c.Worth, previous, c.Name)
		previous = c.Worth
		assert.InDelta(t, before-c.Half, c.Gain, 1e-12)
		if c.Option.What == "fish" {
			assert.InDelta(t, c.Option.Fish, c.Worth, 1e-6)
			continue
		}
		if c.Worth > 0 {
			more := single(400+int(math.Round(c.Worth)), []float64{0.8, 0.7, 0.85}, []float64{0.5, 0.4, 0.6})
			assert.InEpsilon(t, c.Half, line(t, forecast(t, more).Passed, 2, "").Half, 0.001, c.Name)
		}
	}
	for _, what := range []string{"fish", "row", "site", "antennas", "drop", "spread"} {
		assert.True(t, seen[what], what)
	}

	// At the last site an option that makes it estimable comes first, and no
	// number of fish would do the same.
	got = compare(t, p, "passed at Tidehead", p.StandardOptions())
	assert.Equal(t, "row", got[0].Option.What)
	assert.Equal(t, "Tidehead", got[0].Option.Site)
	assert.True(t, math.IsInf(got[0].Worth, 1))
	assert.True(t, math.IsNaN(got[0].Gain))
	for _, c := range got[1:] {
		assert.NotEmpty(t, c.Why, c.Name)
	}
}

func TestCompareByCost(t *testing.T) {
	p := single(400, []float64{0.8, 0.7, 0.85}, []float64{0.5, 0.4, 0.6})
	p.Costs = plan.Costs{Given: true, Fish: 5, Row: 4000, Site: 9000}
	nan := math.NaN()
	options := []plan.Option{
		{What: "drop", Site: "Alder Ford", Cost: nan},
		{What: "row", Site: "Scar Weir", Cost: nan, Detection: nan},
		{What: "fish", Fish: 100, Cost: nan},
		{What: "row", Site: "Scar Weir", Cost: 100, Detection: nan},
		{What: "drop", Site: "Mill Lade", Cost: nan},
		{What: "antennas", Site: "Scar Weir", Detection: 0.7, Cost: nan},
	}
	got := compare(t, p, "passed at Scar Weir", options)
	assert.Equal(t, 100.0, got[0].Cost)
	assert.Equal(t, "row", got[0].Option.What)
	for i := 1; i < 3; i++ {
		assert.Greater(t, got[i-1].GainPerCost, got[i].GainPerCost)
		assert.InDelta(t, 100*got[i].Gain/got[i].Cost*1000, got[i].GainPerCost, 1e-12)
	}
	costs := map[string]float64{}
	for _, c := range got[1:] {
		costs[c.Option.What] = c.Cost
	}
	assert.Equal(t, 500.0, costs["fish"])
	assert.Equal(t, 4000.0, costs["row"])
	assert.Equal(t, "antennas", got[3].Option.What) // its cost is not known
	assert.True(t, math.IsNaN(got[3].Cost))
	assert.Equal(t, -9000.0, got[4].Cost) // saves, but loses precision
	assert.Negative(t, got[4].Gain)
	assert.Contains(t, got[5].Why, "no site")
}

// TestCurves: half-widths of each option over numbers of fish are those of the
// plans made for them.
func TestCurves(t *testing.T) {
	p := tworows()
	f := forecast(t, p)
	target, err := p.ParseTarget("passed at Scar Weir")
	require.NoError(t, err)
	options := p.StandardOptions()
	curves, err := f.Curves(context.Background(), target, options, []float64{0.5, 1, 2})
	require.NoError(t, err)
	assert.Empty(t, curves[0].Name)
	assert.Equal(t, []int{375, 750, 1500}, curves[0].Fish)
	byName := map[string]plan.Comparison{}
	for _, c := range compare(t, p, "passed at Scar Weir", options) {
		byName[c.Name] = c
	}
	assert.Greater(t, len(curves), 8)
	for _, c := range curves[1:] {
		assert.InDelta(t, byName[c.Name].Half, c.Half[1], 1e-12, c.Name)
		if c.Name == "without Tidehead" {
			assert.True(t, math.IsNaN(c.Half[1])) // Scar Weir is the last then
			continue
		}
		assert.Greater(t, c.Half[0], c.Half[2], c.Name)
	}
	assert.InDelta(t, line(t, forecast(t, p.WithFish(1500)).Passed, 2, "").Half, curves[0].Half[2], 1e-12)
	assert.Equal(t, []int{1, 1}, []int{p.WithFish(1).Cohorts[0].Fish, p.WithFish(1).Cohorts[1].Fish})
	assert.Equal(t, []int{4, 6}, []int{p.WithFish(10).Cohorts[0].Fish, p.WithFish(10).Cohorts[1].Fish})
}
