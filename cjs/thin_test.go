package cjs_test

import (
	"math"
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

// thin holds the fit of a study to what is wanted; every limit has to be found, or the
// open ones need not be.
func thin(t *testing.T, path string, want *thinCase, every bool) {
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
	river := &p.Histories.River
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
