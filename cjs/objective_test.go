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
)

// TestObjectiveOfAFit: at the fit's coefficients the objective is its
// log-likelihood and the quantities are its estimates, means over fish that
// differ one by one included.
func TestObjectiveOfAFit(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, c := range []struct {
		in   model.Input
		spec model.Spec
	}{
		{dipper(t, "dipper.toml"), model.Spec{Survival: "reach by sex", Detection: "site"}},
		{model.Input{Histories: lengthFish(400)}, model.Spec{Survival: "reach + fork_length_mm", Detection: "site + other"}},
	} {
		f := mustFit(t, c.in, c.spec, cjs.Options{})
		o := f.Objective()
		require.Equal(t, f.Parameters, o.Columns())
		var p likelihood.Point
		o.Eval(f.X, 0, &p)
		assert.InDelta(t, f.LogLikelihood, p.F, 1e-9) // sums in another order
		watched, quantities := f.Watched(), f.Quantities()
		require.Len(t, quantities, len(watched))
		kinds := map[string]bool{}
		for i, w := range watched {
			quantities[i].Eval(f.Problem.Design, f.X, 0, &p)
			assert.InDelta(t, w.Value, p.F, 1e-12, "%s at %d", w.Kind, w.Site)
			kinds[w.Kind] = true
		}
		assert.True(t, kinds["survival"] && kinds["detection"] && kinds["passed"])
	}
}

// TestStarts: from the first of them alone a fit of one maximum ends there.
func TestStarts(t *testing.T) {
	in := dipper(t, "dipper.toml")
	spec := model.Spec{Survival: "reach + sex", Detection: "same"}
	f := mustFit(t, in, spec, cjs.Options{})
	starts := f.Starts()
	require.Greater(t, len(starts), 1)
	for _, x := range starts {
		require.Len(t, x, f.Parameters)
		again := mustFit(t, in, spec, cjs.Options{Start: x})
		assert.InDelta(t, f.MinusTwoLogLikelihood, again.MinusTwoLogLikelihood, 1e-8)
	}
}

// TestScatter: random starts are the same for the same seed, the first of many
// are those of few, they cover what is possible, and slopes fall as well as
// rise.
func TestScatter(t *testing.T) {
	p, err := model.Build(model.Input{Histories: lengthFish(100)}, model.Spec{Survival: "reach + fork_length_mm", Detection: "site"})
	require.NoError(t, err)
	many := cjs.Scatter(p, 200, 1)
	assert.Equal(t, many[:7], cjs.Scatter(p, 7, 1))
	assert.NotEqual(t, many[:7], cjs.Scatter(p, 7, 2))
	z := []float64{1, 0}
	l := p.Layout
	last := l.Sites() - 1
	for a := range l.Slots() {
		low, high := 1.0, 0.0
		for _, x := range many {
			v := p.Design.Prob(x, 0, a, z).P
			low, high = min(low, v), max(high, v)
		}
		assert.Less(t, low, 0.2, "slot %d", a)
		assert.Greater(t, high, 0.9, "slot %d", a)
	}
	var rising, square, apart float64
	slope := -1
	for j, c := range p.Columns {
		if c.Numeric {
			slope = j
		}
	}
	require.GreaterOrEqual(t, slope, 0)
	for _, x := range many {
		if x[slope] > 0 {
			rising++
		}
		square += x[slope] * x[slope] / float64(len(many))
		apart += math.Abs(p.Design.Prob(x, 0, l.Survival(last-1), z).P-p.Design.Prob(x, 0, l.Detection(last-1), z).P) / float64(len(many))
	}
	// Of 200 the share that rises has standard error 0.035, and their standard
	// deviation, 0.7, one of 0.035: four of each.
	assert.InDelta(t, 0.5, rising/200, 0.14)
	assert.InDelta(t, 0.7, math.Sqrt(square), 0.14)
	// The last survival and the last detection, which trade places between
	// maxima, are drawn apart.
	assert.Greater(t, apart, 0.15)
}

// TestScatterOfClasses: classes differ, and what is held stays.
func TestScatterOfClasses(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"early", "late"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}, {Name: "C"}}},
		Entry: []uint8{0, 0}, Seen: []uint64{3, 1}, End: []history.End{history.Open, history.Open}, Cohort: []int32{0, 1}}
	p, err := model.Build(model.Input{Histories: h, Holds: []model.Hold{{Reach: -1, Row: 1, Value: 0.4}}}, model.Spec{Survival: "reach by cohort", Detection: "site"})
	require.NoError(t, err)
	for _, x := range cjs.Scatter(p, 5, 1) {
		first := p.Layout.Survival(0)
		assert.NotEqual(t, p.Design.Prob(x, 0, first, []float64{1}).P, p.Design.Prob(x, 1, first, []float64{1}).P)
		assert.Equal(t, 0.4, p.Design.Prob(x, 0, p.Layout.Detection(1), []float64{1}).P)
	}
}
