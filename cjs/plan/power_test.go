package plan_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
)

func power(t testing.TB, p *plan.Plan, question string, alpha, chance float64) *plan.Power {
	t.Helper()
	f := forecast(t, p)
	c, err := f.ParseContrast(question)
	require.NoError(t, err)
	c.Alpha, c.Chance = alpha, chance
	out, err := f.Power(context.Background(), c)
	require.NoError(t, err)
	return out
}

// TestPowerOfTwoProportions: where all passing fish are seen, the difference
// that is detected is that of two proportions p and q of n and m fish,
//
//	|q − p| = (z_{1−α/2} + z_{chance}) √(p(1−p)/n + q(1−q)/m)
//
// (Fleiss, Levin & Paik 2003, Statistical Methods for Rates and Proportions,
// chapter 4, without pooling; from memory). The chance in the other tail, left
// out there, is below 1e-6 here.
func TestPowerOfTwoProportions(t *testing.T) {
	p := single(300, []float64{0.6}, []float64{1})
	p.Holds = []model.Hold{{Reach: -1, Row: 0, Value: 1}}
	late := p.Cohorts[0]
	late.Name, late.Fish, late.Survival = "late", 500, []int{2}
	p.Cohorts[0].Name = "early"
	p.Cohorts = append(p.Cohorts, late)
	p.Values = append(p.Values, plan.Value{Low: 0.53, High: 0.53})
	z := distuv.UnitNormal.Quantile
	for _, c := range []struct{ alpha, chance float64 }{{0.05, 0.8}, {0.01, 0.9}, {0.2, 0.95}} {
		got := power(t, p, "early vs late", c.alpha, c.chance)
		require.Empty(t, got.Why)
		assert.InDelta(t, 0.6, got.First, 1e-9)
		assert.InDelta(t, 0.53, got.Second, 1e-9)
		se := func(q float64) float64 { return math.Sqrt(0.6*0.4/300 + q*(1-q)/500) }
		assert.InEpsilon(t, se(0.53), got.SE, 1e-8)
		assert.InDelta(t, distuv.UnitNormal.CDF(0.07/se(0.53)-z(1-c.alpha/2)), got.Chance, 1e-3)
		for _, q := range []float64{got.Lower, got.Higher} {
			assert.InDelta(t, (z(1-c.alpha/2)+z(c.chance))*se(q), math.Abs(q-0.6), 1e-5, "%v", c)
		}
		assert.Less(t, got.Lower, 0.6)
		assert.Greater(t, got.Higher, 0.6)
	}
}

// TestPowerHeedsCovariance: cohorts that share detection are not independent.
func TestPowerHeedsCovariance(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	p := tworows()
	got := power(t, p, "early vs late at Scar Weir", 0.05, 0.8)
	require.Empty(t, got.Why)
	f := forecast(t, p)
	a, b := line(t, f.Passed, 2, "early"), line(t, f.Passed, 2, "late")
	assert.InDelta(t, a.Value, got.First, 1e-9)
	assert.InDelta(t, b.Value, got.Second, 1e-9)
	alone := math.Hypot(a.SE, b.SE)
	assert.Less(t, got.SE, 0.999*alone)
	assert.Greater(t, got.SE, 0.5*alone)

	// A plan with the second cohort at the detected value has the chance that
	// was asked for: survival of both reaches moved alike on the logit scale,
	// found here by halving.
	for _, want := range []float64{got.Lower, got.Higher} {
		logit := func(x float64) float64 { return math.Log(x / (1 - x)) }
		expit := func(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
		low, high := -10.0, 10.0
		for range 60 {
			if mid := (low + high) / 2; expit(logit(0.6)+mid)*expit(logit(0.7)+mid) < want {
				low = mid
			} else {
				high = mid
			}
		}
		q := tworows()
		n := len(q.Values)
		q.Values = append(q.Values, plan.Value{}, plan.Value{})
		for k, v := range []float64{0.6, 0.7} {
			v = expit(logit(v) + low)
			q.Values[n+k] = plan.Value{Low: v, High: v}
			q.Cohorts[1].Survival[k] = n + k
		}
		again := power(t, q, "early vs late at Scar Weir", 0.05, 0.8)
		assert.InDelta(t, want, again.Second, 1e-9)
		assert.InDelta(t, got.First, again.First, 1e-9)
		assert.InDelta(t, 0.8, again.Chance, 1e-9)
	}
	// Survival as a rate per km moves the same ways.
	km := tworows()
	km.Spec.SurvivalLink = "per km"
	rate := power(t, km, "early vs late at Scar Weir", 0.05, 0.8)
	assert.InDelta(t, got.Lower, rate.Lower, 0.01)
	assert.InDelta(t, got.Higher, rate.Higher, 0.01)
	// Cohorts that differ by the same in every reach: the first stays put.
	q := tworows()
	q.Spec.Survival = "reach + cohort"
	for _, question := range []string{"early vs late at Scar Weir", "early vs late in Alder Ford to Scar Weir"} {
		add := power(t, q, question, 0.05, 0.8)
		for _, v := range []float64{add.First - add.Lower, add.Higher - add.First} {
			assert.InDelta(t, (1.959964+0.841621)*add.SE, v, 0.15*v, question) // near it: the standard error moves a little
		}
	}
	// The default is the last site that can be had.
	assert.Equal(t, 3, power(t, p, "early vs late", 0.05, 0.8).Contrast.Target.Site)
	in := power(t, p, "early vs late in Mill Lade to Alder Ford", 0.05, 0.8)
	assert.InDelta(t, 0.8, in.First, 1e-9)
	assert.InDelta(t, 0.6, in.Second, 1e-9)
}

func TestPowerThatIsNotThere(t *testing.T) {
	p := tworows()
	p.Spec.Survival = "reach"
	assert.Contains(t, power(t, p, "early vs late", 0.05, 0.8).Why, "same value")

	p = tworows()
	p = apply(t, p, plan.Option{What: "drop", Site: "Tidehead"})
	assert.Contains(t, power(t, p, "early vs late at Scar Weir", 0.05, 0.8).Why, "not separately estimable")

	// So few fish that not even no survivor would show.
	p = tworows()
	p.Cohorts[0].Fish, p.Cohorts[1].Fish = 4, 4
	got := power(t, p, "early vs late", 0.05, 0.8)
	assert.True(t, math.IsNaN(got.Higher))

	f := forecast(t, p)
	for s, says := range map[string]string{
		"early":                     "compares nothing",
		"erly vs late":              `no cohort "erly"; did you mean "early"?`,
		"early vs lat":              `no cohort "lat"; did you mean "late"?`,
		"early vs early":            "does not differ from itself",
		"early vs late at Tidehed":  `did you mean "Tidehead"?`,
		"early vs late in Tidehead": `no "Tidehead"`,
	} {
		_, err := f.ParseContrast(s)
		assert.ErrorContains(t, err, says, s)
	}
	_, err := f.Power(context.Background(), plan.Contrast{First: "early", Second: "late", Target: f.DefaultTarget(), Alpha: 2})
	assert.ErrorContains(t, err, "alpha is 2")
}
