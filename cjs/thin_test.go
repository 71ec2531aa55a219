package cjs_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

// thinCase is what an independent likelihood says of a study of thin data; see
// testdata/hard/thin/SOURCE.md. A limit of null is an open end.
type thinCase struct {
	Case                string
	MinusTwoLnL         float64 `json:"minus_two_log_likelihood"`
	Passed              []thinEstimate
	SurvivalEstimates   []thinEstimate `json:"survival_estimates"`
	DetectionEstimates  []thinEstimate `json:"detection_estimates"`
	Survival, Detection string
}

type thinEstimate struct {
	Site, Row, From, To string
	Of                  map[string]string
	// Estimate of nil: it is not the same at all points as high as the maximum.
	Estimate  *float64
	Low, High *float64
}

// TestThinData: where data are thin, maxima lie at infinity or are several, and
// every estimate and limit is that of an independent likelihood.
func TestThinData(t *testing.T) {
	folders, err := filepath.Glob("../testdata/hard/thin/*/study.toml")
	require.NoError(t, err)
	require.Len(t, folders, 8)
	for _, path := range folders {
		var want thinCase
		readJSON(t, filepath.Join(filepath.Dir(path), "expected.json"), &want)
		t.Run(want.Case, func(t *testing.T) {
			if testing.Short() && !strings.HasPrefix(want.Case, "additive") {
				t.Skip("the cases of fish one by one take some seconds")
			}
			thin(t, path, &want, false)
		})
	}
}

// TestFewFish: studies drawn at random of which the limits were once wrong or not
// found, or of which nothing was said to be 0; see testdata/hard/few/SOURCE.md.
func TestFewFish(t *testing.T) {
	folders, err := filepath.Glob("../testdata/hard/few/*/study.toml")
	require.NoError(t, err)
	require.Len(t, folders, 4)
	for _, path := range folders {
		var want thinCase
		readJSON(t, filepath.Join(filepath.Dir(path), "expected.json"), &want)
		t.Run(want.Case, func(t *testing.T) { thin(t, path, &want, true) })
	}
}

// profiled is the fit of a study's first model, with intervals by profile likelihood.
func profiled(t *testing.T, path string) *cjs.Fit {
	st, err := study.Load(path)
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	in, err := model.FromStudy(st, h, nil, nil)
	require.NoError(t, err)
	p, err := model.Build(in, model.SpecOf(st.Models[0]))
	require.NoError(t, err)
	f, err := cjs.New(t.Context(), p, cjs.Options{Interval: "profile"})
	require.NoError(t, err)
	assert.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// thin holds the fit of a study to what is wanted; every limit has to be found, or the
// open ones need not be.
func thin(t *testing.T, path string, want *thinCase, every bool) {
	f := profiled(t, path)
	// The source is good to 1e-8.
	assert.InDelta(t, want.MinusTwoLnL, f.MinusTwoLogLikelihood, 1e-6)
	same := func(what string, w thinEstimate, e cjs.Estimate) {
		// Values as they follow from −2 ln L to 1e-6; limits of the source are
		// good to 1e-4.
		if w.Estimate == nil {
			assert.Equal(t, cjs.Inseparable, e.Status, what)
			return
		}
		assert.InDelta(t, *w.Estimate, e.Value, 1e-3, what)
		limit := func(end string, want *float64, open, got float64) {
			v := open
			if want != nil {
				v = *want
			}
			if !math.IsNaN(got) || want != nil || every {
				assert.InDelta(t, v, got, 1e-3, "%s %s", what, end)
			}
		}
		limit("low", w.Low, 0, e.Low)
		limit("high", w.High, 1, e.High)
	}
	river := &f.Problem.Histories.River
	for _, w := range want.Passed {
		found := false
		for i := range f.Passed {
			if x := &f.Passed[i]; len(x.Of) == 0 && river.Sites[x.Site].Name == w.Site {
				same("passed "+w.Site, w, x.PassedShare)
				found = true
			}
		}
		assert.True(t, found, w.Site)
	}
	of := func(of []cjs.Category, w map[string]string) bool {
		if len(of) != len(w) {
			return false
		}
		for _, c := range of {
			if w[c.Name] != c.Level {
				return false
			}
		}
		return true
	}
	for _, w := range want.SurvivalEstimates {
		found := false
		for i := range f.Survival {
			if x := &f.Survival[i]; of(x.Of, w.Of) && river.Sites[x.From].Name == w.From {
				same("survival from "+w.From, w, x.Estimate)
				found = true
			}
		}
		assert.True(t, found, "%v", w)
	}
	for _, w := range want.DetectionEstimates {
		found := false
		for i := range f.Detection {
			x := &f.Detection[i]
			row := river.Sites[x.Site].Name
			if x.Row >= 0 {
				row += "/" + river.Sites[x.Site].Rows[x.Row]
			}
			if of(x.Of, w.Of) && row == w.Row {
				same("detection at "+w.Row, w, x.Estimate)
				found = true
			}
		}
		assert.True(t, found, "%v", w)
	}
}

// TestAlikeHasNoRatio: the model has cohorts alike, with a survival at 1 farther down
// that has nothing to do with them.
func TestAlikeHasNoRatio(t *testing.T) {
	h := counted(3, map[string]int{"101": 20, "111": 30, "110": 0, "100": 50})
	h.Cohorts, h.CohortColumn = []string{"a", "b"}, "cohort"
	h.Cohort = make([]int32, len(h.Seen))
	for i := range h.Cohort {
		h.Cohort[i] = int32(i % 2)
	}
	f := mustFit(t, model.Input{Histories: h}, model.Spec{Survival: "reach", Detection: "site"}, cjs.Options{})
	r, err := f.RelativePassed("b", "a", 1)
	require.NoError(t, err)
	assert.Equal(t, cjs.Held, r.Status)
	assert.True(t, math.IsNaN(r.Low))
}

// TestIntervalsHoldTheirEstimates: where length separates fish, the maximum is at
// infinity and a search from inside finds limits of another hill, such as 0.43 to 1.59
// of a ratio of 2. It counts as not found; no ratio is told then. The fish are drawn
// at random.
func TestIntervalsHoldTheirEstimates(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	write("h.csv", "cohort,length,Mill Lade,Alder Ford/u,Alder Ford/l,Scar Weir\nc2,176,1,0,0,0\nc2,146,1,0,0,0\nc1,141,1,0,0,0\nc0,156,1,0,0,0\nc1,134,1,0,0,0\nc2,117,1,0,0,1\nc1,138,1,0,0,0\nc3,103,1,0,0,0\nc3,129,1,0,0,0\nc3,133,1,0,0,0\nc0,104,1,0,0,0\nc2,100,1,0,0,0\nc1,123,1,0,0,0\nc1,165,1,0,0,1\nc1,176,1,0,0,0\nc1,125,1,0,0,0\nc1,167,1,0,0,0\nc1,149,1,0,0,0\nc3,161,1,0,0,0")
	write("study.toml", `[histories]
file = "h.csv"
cohort = "cohort"
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = ["u", "l"]
[[site]]
name = "Scar Weir"
[[model]]
name = "length"
survival = "reach + length"
detection = "same"
`)
	f := profiled(t, filepath.Join(dir, "study.toml"))
	effects, err := f.Effects(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, effects.Relative)
	holds := func(what string, e cjs.Estimate) {
		if !math.IsNaN(e.Low) && !math.IsNaN(e.High) {
			assert.LessOrEqual(t, e.Low, e.Value, what)
			assert.GreaterOrEqual(t, e.High, e.Value, what)
		}
	}
	for _, r := range effects.Relative {
		holds("ratio of "+r.Cohort, r.Estimate)
		if r.Cohort == "c3" { // nobody of it, or of c0, was detected at all
			assert.Equal(t, cjs.Inseparable, r.Status)
		}
	}
	for _, p := range f.Passed {
		holds("passed "+f.Problem.Histories.River.Sites[p.Site].Name, p.PassedShare)
	}
}
