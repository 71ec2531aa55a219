package opinion_test

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

func dipper(t testing.TB) model.Input {
	t.Helper()
	st, err := study.Load("../../testdata/published/lebreton1992/dipper.toml")
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	in, err := model.FromStudy(st, h, nil, nil)
	require.NoError(t, err)
	return in
}

func fit(t testing.TB, in model.Input, survival, detection string, opt cjs.Options) *cjs.Fit {
	t.Helper()
	p, err := model.Build(in, model.Spec{Survival: survival, Detection: detection})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, opt)
	require.NoError(t, err)
	return f
}

func ask(t testing.TB, f *cjs.Fit, opt opinion.Options) *opinion.Result {
	t.Helper()
	r, err := opinion.Run(context.Background(), f, opt)
	require.NoError(t, err)
	require.Len(t, r.Methods, 3)
	return r
}

// The two maxima of reach + sex | site: testdata/published/lebreton1992,
// SOURCE.md, six digits each.
const higherMaximum, lowerMaximum = 656.849344, 656.912121

// TestBestOfTwo: every method finds the better of two known maxima, and some
// run ends at the other.
func TestBestOfTwo(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	f := fit(t, dipper(t), "reach + sex", "site", cjs.Options{})
	r := ask(t, f, opinion.Options{})
	for _, m := range r.Methods {
		assert.InDelta(t, higherMaximum, m.Best, 1e-6+opinion.Tolerance, m.Name) // half a digit, and what a run may lack
		assert.InDelta(t, lowerMaximum, m.Worst, 1e-6+opinion.Tolerance, m.Name)
		assert.Equal(t, 12, m.Starts)
		assert.Zero(t, m.Failed)
		assert.Greater(t, m.Reached, 0)
		assert.Less(t, m.Reached, 12)
		// Within the tolerance no run is farther than √1e-5 standard errors.
		assert.Less(t, m.DifferenceSE, 0.0032)
		assert.Less(t, m.DifferencePercent, 0.001)
	}
	assert.False(t, r.Better())
	assert.Empty(t, r.Warnings)
}

// lowerFit is a fit that was led to the lower maximum.
func lowerFit(t *testing.T) *cjs.Fit {
	in := dipper(t)
	p, err := model.Build(in, model.Spec{Survival: "reach + sex", Detection: "site"})
	require.NoError(t, err)
	for _, x := range cjs.Scatter(p, 50, 3) {
		f := fit(t, in, "reach + sex", "site", cjs.Options{Start: x})
		if math.Abs(f.MinusTwoLogLikelihood-lowerMaximum) < 1e-5 {
			return f
		}
	}
	t.Fatal("no start leads to the lower maximum")
	return nil
}

// TestAccuses: a fit at the lower maximum is told so, and how far off it is.
func TestAccuses(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	low := lowerFit(t)
	assert.Equal(t, cjs.Converged, low.Verdict)
	r := ask(t, low, opinion.Options{})
	assert.True(t, r.Better())
	require.Len(t, r.Warnings, 1)
	assert.Equal(t, opinion.WarnBetter, r.Warnings[0].ID)
	assert.Contains(t, r.Warnings[0].Message, "656.849344 against 656.912121")

	best := fit(t, dipper(t), "reach + sex", "site", cjs.Options{})
	var want float64
	value := best.ValuesLike(low.Watched())
	for i, w := range low.Watched() {
		if w.SE > 1e-6 {
			want = max(want, math.Abs(value[i]-w.Value)/w.SE)
		}
	}
	for _, m := range r.Methods {
		assert.InDelta(t, want, m.DifferenceSE, 0.01, m.Name) // both ends of it are known to 0.0032
		assert.Greater(t, m.Reached, 0)
	}
	se, _ := r.Differences()
	assert.Greater(t, se, 0.1)
}

// TestBoundsAndNumbers: where a probability is 1 its coefficients are at
// infinity, and numbers of the fish have slopes; no method finds fault, and
// none is far off.
func TestBoundsAndNumbers(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t)
	bounds := 0
	for _, m := range [][2]string{{"reach", "site by sex"}, {"reach by sex", "site by sex"}, {"flood", "same"}} {
		f := fit(t, in, m[0], m[1], cjs.Options{})
		for _, w := range f.Watched() {
			if w.Status == cjs.Boundary {
				bounds++
			}
		}
		r := ask(t, f, opinion.Options{Starts: 6})
		assert.False(t, r.Better(), m)
		for _, one := range r.Methods {
			assert.Greater(t, one.Reached, 3, one.Name)
			assert.Less(t, one.DifferenceSE, 0.0032, one.Name)
			if len(f.Warnings) > 0 && !math.IsNaN(one.DifferencePercent) {
				assert.Less(t, one.DifferencePercent, 0.001, one.Name)
			}
		}
	}
	assert.Greater(t, bounds, 0, "no probability is at a bound: the test looks at nothing")
}

// demo is the demo study, the first fish of it.
func demo(t testing.TB, fish int) model.Input {
	t.Helper()
	st, err := study.Load("../../cmd/unseen/internal/demo/files/study.toml")
	require.NoError(t, err)
	r, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	if fish > 0 {
		records := make([]int, fish)
		for i := range records {
			records[i] = i * r.Histories.Len() / fish
		}
		r.Histories = r.Histories.Pick(records)
	}
	in, err := model.FromStudy(st, r.Histories, r.WorkingShare, nil)
	require.NoError(t, err)
	return in
}

// TestSlopes: fish that differ one by one, whose passed share is a mean.
func TestSlopes(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	f := fit(t, demo(t, 300), "reach + fork_length_mm", "site", cjs.Options{})
	r := ask(t, f, opinion.Options{Starts: 6})
	assert.False(t, r.Better())
	_, starts, reached := r.Counts()
	assert.Equal(t, 18, starts)
	assert.Greater(t, reached, 12)
	se, _ := r.Differences()
	assert.Less(t, se, 0.0032)
}

// TestWhileTheSeasonRuns: times of passage are part of the objective.
func TestWhileTheSeasonRuns(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := demo(t, 200)
	in.AsOf = time.Date(2025, 5, 5, 0, 0, 0, 0, time.UTC)
	in.Histories = in.Histories.Until(in.AsOf.UnixMilli())
	f := fit(t, in, "reach", "site", cjs.Options{})
	require.True(t, f.Problem.Running())
	r := ask(t, f, opinion.Options{Starts: 6})
	assert.False(t, r.Better())
	assert.InDelta(t, f.MinusTwoLogLikelihood, r.Best, opinion.Tolerance)
	for _, m := range r.Methods {
		assert.Greater(t, m.Reached, 2, m.Name)
	}
}

// TestSameAtAnyCores: the same numbers to the last bit.
func TestSameAtAnyCores(t *testing.T) {
	survival, detection := "reach + sex", "site"
	if testing.Short() {
		survival, detection = "same", "same"
	}
	f := fit(t, dipper(t), survival, detection, cjs.Options{})
	print := func(cores int) string {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		return fmt.Sprintf("%v", ask(t, f, opinion.Options{Starts: 7}).Methods)
	}
	one := print(1)
	assert.Equal(t, one, print(4))
	// Other random starts are other runs, or this would compare nothing.
	other := fmt.Sprintf("%v", ask(t, f, opinion.Options{Starts: 7, Seed: 2}).Methods)
	assert.NotEqual(t, one, other)
}

// TestCancel: after the context ends no further run is begun.
func TestCancel(t *testing.T) {
	f := fit(t, dipper(t), "same", "same", cjs.Options{})
	ctx, cancel := context.WithCancel(context.Background())
	runs, of := 0, 0
	r, err := opinion.Run(ctx, f, opinion.Options{Done: func(n, m int) {
		runs, of = n, m
		cancel()
	}})
	assert.ErrorIs(t, err, context.Canceled)
	assert.Nil(t, r)
	assert.Equal(t, 36, of)
	assert.LessOrEqual(t, runs, 1+runtime.GOMAXPROCS(0)) // those that had begun
}
