package replicate_test

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

var outageStart = time.Date(2025, 4, 1, 12, 0, 0, 0, time.UTC)

// outageTruth: two cohorts over ten days, and a last site that stands still for five
// days in which about four in ten of the fish pass.
func outageTruth() simulate.Truth {
	const day = 24 * time.Hour
	t := simulate.Truth{River: history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 60}, {Name: "Alder Ford", Km: 20}, {Name: "Tidehead", Km: 0}}},
		TestPasses: []simulate.TestPasses{{Row: 1, Passes: 1000}}}
	for i, name := range []string{"early", "late"} {
		c := simulate.Cohort{Name: name, Fish: 800, Survival: []float64{0.7, 0.65}, Detection: []float64{0.75, 0.75}, Movement: simulate.Movement{Drift: 8, Spread: 12}}
		for d := range 5 {
			c.Released = append(c.Released, outageStart.Add(time.Duration(5*i+d)*day).UnixMilli())
		}
		t.Cohorts = append(t.Cohorts, c)
	}
	t.Stop(1, outageStart.Add(9*day), outageStart.Add(14*day))
	return t
}

func outageFit(t testing.TB, truth *simulate.Truth, i uint64, asOf time.Time) *cjs.Fit {
	t.Helper()
	x := *truth
	x.AsOf = asOf
	s := x.Draw(29, i)
	p, err := model.Build(model.Input{Histories: s.Histories, TestPasses: s.TestPasses, Working: truth.Working, AsOf: asOf}, model.Spec{Survival: "reach + cohort", Detection: "row"})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// Data made anew have their times: let go as the fish were, nobody is seen while the
// row stands still, as many are seen as were, and the same index gives the same.
func TestNewDataWithOutages(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	truth := outageTruth()
	f := outageFit(t, &truth, 1, time.Time{})
	h := f.Problem.Histories
	idle := f.Problem.IdleTimes(1, math.MaxInt64)
	require.Len(t, idle, 1)
	again := simulate.FromFit(f)
	require.False(t, again.Alike())
	seen := func(h *history.Histories) (n [2]int) {
		for i := range h.Len() {
			for b := range 2 {
				if h.Seen[i]>>uint(b)&1 == 1 {
					n[b] += h.Weight(i)
					at := h.First[2*i+b]
					assert.Greater(t, at, h.Released[i])
					assert.False(t, b == 1 && idle[0][0] <= at && at < idle[0][1])
				}
			}
		}
		return n
	}
	were := seen(h)
	for name, anew := range map[string]func(uint64) (*model.Problem, error){
		"simulated": func(i uint64) (*model.Problem, error) { return again.Simulate(simulate.Stream(3, i)) },
		"by fish":   func(i uint64) (*model.Problem, error) { return again.Resample(simulate.Stream(3, i)) },
	} {
		var mean [2]float64
		for i := range uint64(20) {
			p, err := anew(i)
			require.NoError(t, err)
			require.True(t, p.Windowed())
			assert.Same(t, f.Problem.Design, p.Design)
			assert.Equal(t, h.Fish(), p.Histories.Fish())
			n := seen(p.Histories)
			mean[0], mean[1] = mean[0]+float64(n[0])/20, mean[1]+float64(n[1])/20
			if name == "simulated" {
				assert.Equal(t, h.Released, p.Histories.Released)
			}
			assert.NotEqual(t, h.Seen, p.Histories.Seen)
		}
		for b := range 2 {
			// Binomial, 4 standard errors of the mean of 20.
			share := float64(were[b]) / float64(h.Fish())
			assert.InDelta(t, float64(were[b]), mean[b], 4*math.Sqrt(float64(h.Fish())*share*(1-share)/20), name)
		}
	}
	a, err := again.Simulate(simulate.Stream(3, 1))
	require.NoError(t, err)
	b, err := simulate.FromFit(f).Simulate(simulate.Stream(3, 1))
	require.NoError(t, err)
	assert.Equal(t, a.Histories.First, b.Histories.First)
	assert.Equal(t, a.TestPasses, b.TestPasses)
	// The fit's own fish, put in anew, are its data.
	own, err := f.Problem.WithHistories(h, indices(h.Len()), f.Problem.TestPasses)
	require.NoError(t, err)
	g, err := cjs.New(context.Background(), own, cjs.Options{EstimatesOnly: true})
	require.NoError(t, err)
	assert.InDelta(t, f.LogLikelihood, g.LogLikelihood, 1e-7)
}

func indices(n int) (out []int) {
	for i := range n {
		out = append(out, i)
	}
	return out
}

// Replicates of a fit with outages: about the estimates (4 standard errors of the
// mean, and half a standard error for the bias that a ratio has), with the spread
// that the fit says, within 3 standard errors of a standard deviation of 80, 1/√160
// of it. They give intervals at the outage too; at a bound the profile stays.
func TestBootstrapWithOutages(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	truth := outageTruth()
	for _, method := range []string{replicate.Parametric, replicate.ByFish} {
		f := outageFit(t, &truth, 1, time.Time{})
		before := f.Watched()
		s := run(t, f, 1, 80, replicate.Options{Method: method, Seed: 7})
		assert.True(t, math.IsNaN(s.Deviance))
		sum, err := s.Apply(f)
		require.NoError(t, err)
		require.Empty(t, sum.Failed)
		gave := 0
		for j, w := range f.Watched() {
			e := sum.Estimates[j]
			assert.Equal(t, 80, e.Given, e.Name)
			if !(w.SE > 0) {
				continue
			}
			assert.InDelta(t, 0, e.Bias, 4*w.SE/math.Sqrt(80)+0.1*w.SE, e.Name)
			assert.InEpsilon(t, w.SE, e.SE, 3/math.Sqrt(160), e.Name)
			if w.Kind == "passed" && w.Site == 2 {
				assert.Equal(t, "profile", before[j].Method, e.Name)
				if w.Method == "bootstrap" {
					gave++
				} else {
					assert.Equal(t, before[j].Low, w.Low, e.Name)
				}
			}
		}
		// Of the cohort that the outage met least; the others rest on few fish.
		assert.Equal(t, 1, gave)
	}

	// Another window is other data, though nobody passed in it.
	f := outageFit(t, &truth, 1, time.Time{})
	minute := outageStart.Add(200 * time.Hour)
	truth.Stop(0, minute, minute.Add(time.Minute))
	g := outageFit(t, &truth, 1, time.Time{})
	require.Equal(t, f.Problem.Histories, g.Problem.Histories)
	assert.NotEqual(t, run(t, f, 1, 1, replicate.Options{}).Data, run(t, g, 1, 1, replicate.Options{}).Data)
	f = outageFit(t, &truth, 1, outageStart.Add(16*24*time.Hour))
	_, err := replicate.Run(context.Background(), f, 1, 4, replicate.Options{})
	assert.ErrorContains(t, err, "while the season runs")
}
