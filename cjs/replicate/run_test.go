package replicate_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"math"
	"os"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

// riverFit is a fit to simulated fish: rows, removals, test passes, and, with
// length, a number of the fish that acts on survival.
func riverFit(t testing.TB, length bool) *cjs.Fit {
	t.Helper()
	sites := []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford", Rows: []string{"upper", "lower"}}, {Name: "Scar Weir"}, {Name: "Tidehead"}}
	truth := simulate.Truth{River: history.River{Sites: sites}, TestPasses: []simulate.TestPasses{{Row: 3, Passes: 120}}}
	for i, name := range []string{"early", "late"} {
		truth.Cohorts = append(truth.Cohorts, simulate.Cohort{Name: name, Fish: 400, Survival: []float64{0.8 - 0.1*float64(i), 0.75, 0.7},
			Detection: []float64{0.5, 0.4, 0.5, 0.5}, Removed: []float64{0, 0, 0.2, 0}})
	}
	spec := model.Spec{Survival: "reach + cohort", Detection: "row"}
	if length {
		truth.Covariates = []simulate.Covariate{{Name: "length", Mean: 170, SD: 15, Survival: []float64{0.03, 0.03, 0.03}}}
		spec.Survival += " + length"
	}
	require.NoError(t, truth.Check())
	s := truth.Draw(11, 1)
	p, err := model.Build(model.Input{Histories: s.Histories, TestPasses: s.TestPasses}, spec)
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

func run(t testing.TB, f *cjs.Fit, from, to int, opt replicate.Options) *replicate.Set {
	t.Helper()
	s, err := replicate.Run(context.Background(), f, from, to, opt)
	require.NoError(t, err)
	require.Len(t, s.Replicates, to-from+1)
	return s
}

func written(t testing.TB, s *replicate.Set) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, s.Write(&b))
	return b.String()
}

func TestPartsMakeTheWhole(t *testing.T) {
	for _, method := range []string{replicate.Parametric, replicate.ByFish} {
		for _, length := range []bool{false, true} {
			if testing.Short() && length == (method == replicate.ByFish) {
				continue
			}
			f := riverFit(t, length)
			opt := replicate.Options{Method: method, Seed: 4}
			cores := runtime.GOMAXPROCS(1)
			whole := run(t, f, 1, 12, opt)
			runtime.GOMAXPROCS(4)
			a, b := run(t, f, 8, 12, opt), run(t, f, 1, 7, opt)
			runtime.GOMAXPROCS(cores)
			merged, err := replicate.Merge(a, b)
			require.NoError(t, err)
			assert.Equal(t, written(t, whole), written(t, merged), "%s, length %v", method, length)

			// Read back, and made longer from there.
			read, err := replicate.Read(strings.NewReader(written(t, b)), "part")
			require.NoError(t, err)
			opt.Have = read
			var fresh int
			opt.Done = func() { fresh++ }
			defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
			again, err := replicate.Run(context.Background(), f, 1, 12, opt)
			require.NoError(t, err)
			assert.Equal(t, written(t, whole), written(t, again))
			assert.Equal(t, 5, fresh)
		}
	}
}

func TestCancelKeepsWhatIsDone(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s, err := replicate.Run(ctx, riverFit(t, true), 1, 100000, replicate.Options{Done: cancel})
	require.ErrorIs(t, err, context.Canceled)
	assert.GreaterOrEqual(t, len(s.Replicates), 1)
	assert.Less(t, len(s.Replicates), 1000)
}

func TestMergeRefuses(t *testing.T) {
	f := riverFit(t, false)
	a := run(t, f, 1, 3, replicate.Options{})
	refused := func(want string, parts ...*replicate.Set) {
		t.Helper()
		_, err := replicate.Merge(parts...)
		assert.ErrorContains(t, err, want)
	}
	refused("nothing to merge")
	refused("replicate 3 stands in part 1 and in part 2", a, run(t, f, 3, 4, replicate.Options{}))
	refused("part 2: the seed differ: 0 and 1", a, run(t, f, 4, 5, replicate.Options{Seed: 1}))
	refused("method", a, run(t, f, 4, 5, replicate.Options{Method: replicate.ByFish}))
	refused("data (SHA-256)", a, run(t, riverFit(t, true), 4, 5, replicate.Options{}))
	other := *a
	other.Model = "0"
	refused("model (SHA-256)", a, &other)
	other = *a
	other.Estimates = append([]float64{a.Estimates[0] + 1e-3}, a.Estimates[1:]...)
	refused("the fits differ", a, &other)
	opt := replicate.Options{Seed: 2, Have: a}
	_, err := replicate.Run(context.Background(), f, 1, 9, opt)
	assert.ErrorContains(t, err, "the replicates made before: the seed differ")
	short := *a
	short.Estimates = nil
	opt.Have = &short
	_, err = replicate.Run(t.Context(), f, 1, 1, opt)
	assert.ErrorContains(t, err, "the replicates made before: 20 names and 0 estimates")
}

func TestReadRefuses(t *testing.T) {
	whole := written(t, run(t, riverFit(t, false), 1, 2, replicate.Options{}))
	unsummed := regexp.MustCompile(`,"(sum":"[0-9a-f]+"|replicates":\d+)`)
	whole = unsummed.ReplaceAllString(whole, "") // as earlier versions wrote it
	lines := strings.SplitAfter(whole, "\n")
	for _, c := range []struct{ text, want string }{
		{"", "holds no replicates"},
		{"{", "a.jsonl, line 1: no JSON"},
		{lines[1], "line 1: the first line says"},
		{strings.Replace(whole, `"version":1`, `"version":2`, 1), "version 2"},
		{strings.Replace(whole, `"kind":"unseen/replicates"`, `"kind":"unseen/fit"`, 1), `kind "unseen/fit"`},
		{lines[0] + strings.Replace(lines[1], `"seed":0`, `"seed":7`, 1), "line 2: replicate 1 is of other data"},
		{lines[0] + strings.Replace(lines[1], `"replicate":1`, `"replicate":0`, 1), "counted from 1"},
		{lines[0] + `{"replicate":1,` + lines[1][strings.Index(lines[1], `"seed"`):strings.Index(lines[1], `"estimates"`)] + `"estimates":[1]}`, "1 estimates, not"},
		{lines[0] + lines[1][:40], "line 2: no JSON"},
		{lines[0] + lines[1] + lines[1], "replicate 1 stands in part 1"},
	} {
		_, err := replicate.Read(strings.NewReader(c.text), "a.jsonl")
		assert.ErrorContains(t, err, c.want)
	}
	// Files of one run, one after the other, are a file.
	s, err := replicate.Read(strings.NewReader(whole+strings.ReplaceAll(whole, `"replicate":`, `"replicate":1`)), "a.jsonl")
	require.NoError(t, err)
	assert.Len(t, s.Replicates, 4)
}

// A file of replicates with one bit changed, or cut off anywhere, is refused or
// holds the same.
func TestDamagedReplicates(t *testing.T) {
	whole := []byte(written(t, run(t, riverFit(t, false), 1, 3, replicate.Options{})))
	want, err := replicate.Read(bytes.NewReader(whole), "a.jsonl")
	require.NoError(t, err)
	harmless := 0
	for i := 0; i < 8*len(whole); i += 3 { // each bit of a byte in its turn
		text := bytes.Clone(whole)
		text[i/8] ^= 1 << (i % 8)
		if s, err := replicate.Read(bytes.NewReader(text), "a.jsonl"); err == nil {
			require.Equal(t, want, s, "bit %d of %q", i%8, whole[max(0, i/8-10):min(len(whole), i/8+10)])
			harmless++
		}
	}
	t.Logf("%d of %d changes are harmless", harmless, 8*len(whole)/3)
	assert.Less(t, harmless, len(whole)/2, "most are refused")
	for n := range len(whole) - 1 {
		_, err := replicate.Read(bytes.NewReader(whole[:n]), "a.jsonl")
		require.Error(t, err, n)
	}
}

func TestRunRefuses(t *testing.T) {
	f := riverFit(t, false)
	_, err := replicate.Run(context.Background(), f, 0, 4, replicate.Options{})
	assert.ErrorContains(t, err, "counted from 1")
	_, err = replicate.Run(context.Background(), f, 1, 4, replicate.Options{Method: "jackknife"})
	assert.ErrorContains(t, err, `method "jackknife"`)
	f.Verdict = cjs.NotConverged
	_, err = replicate.Run(context.Background(), f, 1, 4, replicate.Options{})
	assert.ErrorContains(t, err, "did not converge")
}

// TestRefitIsAFit: the short way of refits and a whole fit of the same drawn
// fish, made a record each, agree.
func TestRefitIsAFit(t *testing.T) {
	f := riverFit(t, false)
	again := simulate.FromFit(f)
	refit := cjs.NewRefitter(f)
	for i := range uint64(5) {
		r, err := refit.Fit(context.Background(), &again.ResampleCounts(simulate.Stream(8, i)).Data)
		require.NoError(t, err)
		// The same random numbers draw the same fish.
		p, err := again.Resample(simulate.Stream(8, i))
		require.NoError(t, err)
		g, err := cjs.New(context.Background(), p, cjs.Options{EstimatesOnly: true})
		require.NoError(t, err)
		assert.True(t, r.Converged)
		assert.InDelta(t, g.LogLikelihood, r.LogLikelihood, 1e-8)
		for j, v := range g.ValuesLike(f.Watched()) {
			// A refit ends within 1e-6 standard errors.
			assert.InDelta(t, v, r.Values[j], 1e-6)
		}
	}
	// Of the fit's own fish it gives the fit.
	r, err := refit.Fit(context.Background(), &again.Observed().Data)
	require.NoError(t, err)
	assert.InDelta(t, f.LogLikelihood, r.LogLikelihood, 1e-9)
	for j, w := range f.Watched() {
		assert.InDelta(t, w.Value, r.Values[j], 1e-6)
	}
}

// TestSaturated holds the saturated log-likelihood to the published next-seen
// table of the dipper: Σ m ln(m / released) over its cells.
func TestSaturated(t *testing.T) {
	file, err := os.Open("../../testdata/published/lebreton1992/next_seen_pooled.csv")
	require.NoError(t, err)
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range lines[0] {
		column[name] = i
	}
	var want float64
	for _, l := range lines[1:] {
		number := func(s string) float64 {
			v, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			return v
		}
		released := number(l[column["released"]])
		never := released
		for i, name := range lines[0] {
			if _, err := strconv.Atoi(name); err != nil || l[i] == "" {
				continue
			}
			if m := number(l[i]); m > 0 {
				never -= m
				want += m * math.Log(m/released)
			}
		}
		if never > 0 {
			want += never * math.Log(never/released)
		}
	}
	f := dipperFit(t, reachSite)
	got := simulate.FromFit(f).Observed().Saturated()
	assert.InDelta(t, want, got, 1e-9)
	s := run(t, f, 1, 2, replicate.Options{})
	assert.InDelta(t, 2*(want-f.LogLikelihood), s.Deviance, 1e-9)
}

// TestSaturatedOfRows: two rows at one site, 40 fish seen by the upper, 25 by
// the lower, 160 by both, 775 by none: by hand Σ n ln(n/1000) over seen and not,
// and Σ n ln(n/225) over the rows of those seen.
func TestSaturatedOfRows(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"up", "down"}}}},
		Entry: make([]uint8, 4), Seen: []uint64{0, 1, 2, 3}, End: make([]history.End, 4), Cohort: make([]int32, 4), Count: []int32{775, 40, 25, 160}}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	want := 775*math.Log(.775) + 225*math.Log(.225) + 40*math.Log(40/225.0) + 25*math.Log(25/225.0) + 160*math.Log(160/225.0)
	assert.InDelta(t, want, simulate.FromFit(f).Observed().Saturated(), 1e-9)
}

// threeSites is a fit to 126 fish, the last of them seen as given, with 20 test
// passes at the last site.
func threeSites(t testing.TB, seen uint64, read int) *cjs.Fit {
	t.Helper()
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}, {Name: "C"}}},
		Entry: make([]uint8, 5), Seen: []uint64{0, 1, 2, 3, seen}, End: make([]history.End, 5), Cohort: make([]int32, 5), Count: []int32{60, 20, 15, 30, 1}}
	p, err := model.Build(model.Input{Histories: h, TestPasses: []model.TestPasses{{Row: 1, Passes: 20, Read: read}}}, model.Spec{})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	return f
}

// TestDataAreToldApart: one fish seen elsewhere is other data, and so is one
// test pass more.
func TestDataAreToldApart(t *testing.T) {
	sha := map[string]bool{}
	for _, f := range []*cjs.Fit{threeSites(t, 1, 9), threeSites(t, 2, 9), threeSites(t, 1, 10), threeSites(t, 1, 9)} {
		sha[run(t, f, 1, 1, replicate.Options{}).Data] = true
	}
	assert.Len(t, sha, 3)
}

// TestWhatDataDoNotTellIsAbsent: where nobody is seen at C, what was seen at B
// is survival times detection, and neither alone.
func TestWhatDataDoNotTellIsAbsent(t *testing.T) {
	f := threeSites(t, 3, 9)
	c := simulate.FromFit(f).Observed()
	u := &c.Data.Units[0]
	u.Alive, u.Seen, u.Missed, u.Never = []float64{50, 0}, []float64{50, 0}, []float64{0, 0}, []float64{76, 50, 0}
	r, err := cjs.NewRefitter(f).Fit(context.Background(), &c.Data)
	require.NoError(t, err)
	for i, w := range f.Watched() {
		if w.Site == 1 {
			assert.True(t, math.IsNaN(r.Values[i]), "%s: %v", w.Kind, r.Values[i])
		} else {
			assert.False(t, math.IsNaN(r.Values[i]), "%s %d", w.Kind, w.Site)
		}
	}
	assert.Len(t, f.Watched(), 6)
}

// TestDipperReplicates: with 294 birds the spread of replicates is near the
// standard errors from the information, and the deviance of a model that fits
// is an ordinary one.
func TestDipperReplicates(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	f := dipperFit(t, model.Spec{Survival: "flood", Detection: "same"})
	for _, method := range []string{replicate.Parametric, replicate.ByFish} {
		sum := summarise(t, run(t, f, 1, 2000, replicate.Options{Method: method, Seed: 19}), 0.95)
		assert.Empty(t, sum.Failed)
		for i, w := range f.Watched() {
			e := sum.Estimates[i]
			assert.Equal(t, 2000, e.Given)
			// 2,000 replicates tell a standard deviation to 1.6 %; by fish the
			// model need not be right, so that more may differ.
			within := map[string]float64{replicate.Parametric: 0.06, replicate.ByFish: 0.15}[method]
			assert.InDelta(t, w.SE, e.SE, within*w.SE, e.Name)
			assert.Less(t, math.Abs(e.Bias), 0.15*w.SE, e.Name)
			// Detection is near 0.9, so that percentiles and logit differ.
			assert.InDelta(t, w.Low, e.Low, 0.8*w.SE, e.Name)
			assert.InDelta(t, w.High, e.High, 0.8*w.SE, e.Name)
			assert.InDelta(t, e.Low, e.CorrectedLow, 0.3*w.SE)
			assert.InDelta(t, e.High, e.CorrectedHigh, 0.3*w.SE)
		}
		if method == replicate.Parametric {
			assert.Greater(t, sum.P, 0.05)
			assert.Less(t, sum.P, 0.999)
		} else {
			assert.True(t, math.IsNaN(sum.P))
		}
	}
}

// TestDevianceTellsMisfit: fish that differ in detection do not fit, and the
// deviance says so.
func TestDevianceTellsMisfit(t *testing.T) {
	sites := []history.Site{{Name: "A"}, {Name: "B"}, {Name: "C"}, {Name: "D"}, {Name: "E"}}
	truth := simulate.Truth{River: history.River{Sites: sites},
		Cohorts:    []simulate.Cohort{{Name: "all", Fish: 3000, Survival: []float64{0.8, 0.8, 0.8, 0.8}, Detection: []float64{0.5, 0.5, 0.5, 0.5}}},
		Violations: simulate.Violations{DetectionSD: 2}}
	s := truth.Draw(3, 1)
	p, err := model.Build(model.Input{Histories: s.Histories}, model.Spec{Survival: "reach", Detection: "site"})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	sum := summarise(t, run(t, f, 1, 400, replicate.Options{}), 0.95)
	assert.InDelta(t, 1.0/401, sum.P, 1e-12, "deviance %v, simulated mean %v", sum.Deviance, sum.MeanDeviance)
}

// summarise sums up a set that is known to be sound.
func summarise(t *testing.T, s *replicate.Set, level float64) *replicate.Summary {
	t.Helper()
	sum, err := s.Summarise(level)
	require.NoError(t, err)
	return sum
}
