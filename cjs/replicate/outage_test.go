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
	s := truth.Draw(29, i)
	h := s.Histories
	if !asOf.IsZero() {
		h = h.Until(asOf.UnixMilli())
	}
	p, err := model.Build(model.Input{Histories: h, TestPasses: s.TestPasses, Working: truth.Working, AsOf: asOf}, model.Spec{Survival: "reach + cohort", Detection: "row"})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// Data made anew have their times: let go as the fish were, nobody is seen while the
// row stands still or after the data end, as many are seen as were, and the same index
// gives the same.
func TestNewDataWithTimes(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const day = 24 * time.Hour
	for name, c := range map[string]struct {
		outage bool
		asOf   time.Time
	}{
		"outage":                       {true, time.Time{}},
		"season runs, some not let go": {false, outageStart.Add(9 * day)},
		"outage, season runs":          {true, outageStart.Add(13 * day)},
	} {
		t.Run(name, func(t *testing.T) {
			truth := outageTruth()
			if !c.outage {
				truth.Working = nil
			}
			newDataWithTimes(t, outageFit(t, &truth, 1, c.asOf))
		})
	}
}

func newDataWithTimes(t *testing.T, f *cjs.Fit) {
	h := f.Problem.Histories
	until := int64(math.MaxInt64)
	if f.Problem.Running() {
		until = f.Problem.AsOf
	}
	idle := f.Problem.IdleTimes(1, until)
	require.Len(t, idle, btoi(f.Problem.Windowed()))
	idle = append(idle, [2]int64{until, math.MaxInt64})
	again := simulate.FromFit(f)
	require.False(t, again.Alike())
	fish := 0
	for i, g := range f.Problem.ClassOf {
		if g >= 0 {
			fish += h.Weight(i)
		}
	}
	seen := func(h *history.Histories) (n [2]int) {
		for i := range h.Len() {
			for b := range 2 {
				if h.Seen[i]>>uint(b)&1 == 1 {
					n[b] += h.Weight(i)
					at := h.First[2*i+b]
					assert.Greater(t, at, h.Released[i])
					assert.Less(t, at, until)
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
			require.Equal(t, f.Problem.Windowed(), p.Windowed())
			require.Equal(t, f.Problem.AsOf, p.AsOf)
			assert.Same(t, f.Problem.Design, p.Design)
			assert.Equal(t, fish, p.Histories.Fish())
			n := seen(p.Histories)
			mean[0], mean[1] = mean[0]+float64(n[0])/20, mean[1]+float64(n[1])/20
			if name == "simulated" {
				assert.Equal(t, h.Released[:fish], p.Histories.Released)
			}
			assert.NotEqual(t, h.Seen, p.Histories.Seen)
		}
		for b := range 2 {
			// Binomial, 4 standard errors of the mean of 20.
			share := float64(were[b]) / float64(fish)
			assert.InDelta(t, float64(were[b]), mean[b], 4*math.Sqrt(float64(fish)*share*(1-share)/20), name)
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

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
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
		// Of all fish and of both cohorts: none is at or near a bound.
		assert.Equal(t, 3, gave)
	}

	// Another window is other data, though nobody passed in it.
	f := outageFit(t, &truth, 1, time.Time{})
	minute := outageStart.Add(200 * time.Hour)
	truth.Stop(0, minute, minute.Add(time.Minute))
	g := outageFit(t, &truth, 1, time.Time{})
	require.Equal(t, f.Problem.Histories, g.Problem.Histories)
	assert.NotEqual(t, run(t, f, 1, 1, replicate.Options{}).Data, run(t, g, 1, 1, replicate.Options{}).Data)
}

// Replicates while the season runs: about the estimates, with the spread that the fit
// says, in the limits of [TestBootstrapWithOutages]. What had passed so far and what was
// still to get intervals with the share that passes in the end, of which it is told
// what a replicate alone would withhold; what the fit withholds has no replicates, and
// a profile interval not only of the day stays.
func TestBootstrapWhileTheSeasonRuns(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const day = 24 * time.Hour
	truth := outageTruth()
	truth.Working = nil
	kinds := map[string]int{}
	for _, method := range []string{replicate.Parametric, replicate.ByFish} {
		f := outageFit(t, &truth, 1, outageStart.Add(13*day))
		before := f.Followed()
		s := run(t, f, 1, 80, replicate.Options{Method: method, Seed: 7})
		sum, err := s.Apply(f)
		require.NoError(t, err)
		require.Empty(t, sum.Failed)
		after := f.Followed()
		require.Len(t, sum.Estimates, len(after))
		for j, w := range after {
			e := sum.Estimates[j]
			assert.Equal(t, 80, e.Given, e.Name)
			assert.InDelta(t, 0, e.Bias, 4*w.SE/math.Sqrt(80)+0.1*w.SE, e.Name)
			assert.InEpsilon(t, w.SE, e.SE, 3/math.Sqrt(160), e.Name)
			if w.Method == "bootstrap" {
				kinds[w.Kind+" "+before[j].Method]++
				assert.Equal(t, [2]float64{e.CorrectedLow, e.CorrectedHigh}, [2]float64{w.Low, w.High}, e.Name)
				continue
			}
			kinds["kept"]++
			assert.Equal(t, before[j].Estimate, w.Estimate, e.Name)
		}
	}
	// Of all fish and of the late ones at the last site, both by profile for the day
	// alone; what is still to pass of the early ones rests on few fish.
	assert.Equal(t, 4, kinds["passed profile"])
	assert.Positive(t, kinds["kept"])
	assert.Equal(t, [2]int{4, 4}, [2]int{kinds["passed so far profile"], kinds["still to pass profile"]})

	// Too early for the late fish: nothing to follow, and the interval stays.
	f := outageFit(t, &truth, 1, outageStart.Add(9*day))
	early := func() (out []cjs.Passed) {
		for _, p := range f.Passed {
			if p.PassedShare.Status == cjs.TooEarly {
				out = append(out, p)
			}
		}
		return out
	}
	was := early()
	require.NotEmpty(t, was)
	_, err := run(t, f, 1, 40, replicate.Options{Seed: 7}).Apply(f)
	require.NoError(t, err)
	for i, p := range early() {
		assert.Equal(t, was[i].PassedShare.Method, p.PassedShare.Method)
		assert.Equal(t, [2]float64{was[i].PassedShare.Low, was[i].PassedShare.High}, [2]float64{p.PassedShare.Low, p.PassedShare.High})
	}

	// Another day is other data, though no record came meanwhile.
	g := outageFit(t, &truth, 1, outageStart.Add(9*day+time.Millisecond))
	assert.NotEqual(t, run(t, f, 1, 1, replicate.Options{}).Data, run(t, g, 1, 1, replicate.Options{}).Data)
}
