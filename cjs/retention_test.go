package cjs_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// TestRetentionBySciPy: shares that passed had no tag been lost, with limits by
// the profile likelihood of fish and trial together, from another program:
// testdata/published/scipy/retention.py.
func TestRetentionBySciPy(t *testing.T) {
	b, err := os.ReadFile("../testdata/published/scipy/retention.json")
	require.NoError(t, err)
	var doc struct {
		Cases []struct {
			Name                string
			Counts              map[string]int
			Held, Kept          int
			Inflation           float64
			Estimate, Low, High float64
		}
	}
	require.NoError(t, json.Unmarshal(b, &doc))
	require.Len(t, doc.Cases, 9)
	const tolerance = 2e-6 // SOURCE.md beside the values
	for _, c := range doc.Cases {
		opt := cjs.Options{Interval: "profile", VarianceInflation: c.Inflation}
		opt.Retention.Held, opt.Retention.Kept = c.Held, c.Kept
		f := mustFit(t, model.Input{Histories: counted(4, c.Counts)}, model.Spec{}, opt)
		e := f.Passed[1].WithRetention
		assert.InDelta(t, c.Estimate, e.Value, tolerance, c.Name)
		assert.InDelta(t, c.Low, e.Low, tolerance, c.Name)
		assert.InDelta(t, c.High, e.High, tolerance, c.Name)
		assert.Equal(t, "profile", e.Method, c.Name)
		// Where fish are ample the large-sample likelihood says nearly the same:
		// a logit interval and a profile differ by some 3 % of their width.
		opt.Interval = "logit"
		l := mustFit(t, model.Input{Histories: counted(4, c.Counts)}, model.Spec{}, opt).Passed[1].WithRetention
		if c.Counts["1000"] > 100 {
			width := c.High - c.Low
			assert.InDelta(t, c.Low, l.Low, 0.03*width, c.Name)
			assert.InDelta(t, c.High, l.High, 0.03*width, c.Name)
			assert.Equal(t, c.Estimate < 1, l.Method == "logit", "%s: at the edge a profile", c.Name)
		}
		if c.Estimate == 1 {
			assert.Equal(t, cjs.Boundary, e.Status, c.Name)
			assert.True(t, math.IsNaN(e.SE), c.Name)
		} else {
			assert.Equal(t, c.Kept == c.Held, math.IsNaN(e.SE), "%s: of a trial in which none was lost the delta method knows no error", c.Name)
		}
	}
}

// Where nobody passed, with a tag or without, there is nothing below 0; above it
// the few who may have are more by those who lost their tags.
func TestRetentionWhereNobodyPassed(t *testing.T) {
	opt := cjs.Options{}
	opt.Retention.Held, opt.Retention.Kept = 500, 492
	h := counted(4, map[string]int{"1111": 40, "1101": 20, "1011": 20, "1001": 5, "1110": 10, "1100": 30, "1000": 75})
	// And a cohort of 60 of which none was seen again.
	h.Cohorts = []string{"some", "none"}
	h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, 0), append(h.End, history.Open)
	h.Count, h.Cohort = append(h.Count, 60), append(h.Cohort, 1)
	f := mustFit(t, model.Input{Histories: h}, model.Spec{Survival: "reach + cohort", Detection: "site"}, opt)
	checked := 0
	for _, row := range f.Passed {
		if p, e := row.PassedShare, row.WithRetention; p.Value == 0 {
			checked++
			assert.Zero(t, e.Value)
			assert.Zero(t, e.Low)
			assert.Greater(t, e.High, p.High)
			// κ is 0.984 ± 0.006.
			assert.InDelta(t, p.High/0.984, e.High, 0.01*e.High)
		}
	}
	assert.NotZero(t, checked)
}
