package assess_test

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// TestFifthsBySite holds what is expected at each site by fifths to sums over all
// that can become of a fish, at a maximum found by SciPy
// (testdata/fifths/fifths.py). Some fish enter lower down, some are taken out.
func TestFifthsBySite(t *testing.T) {
	f, err := os.Open("testdata/fifths/fish.csv")
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	d := design{Sites: 4, Rows: 1}
	h := &history.Histories{River: d.river(), Cohorts: []string{"all"}}
	length := history.Column{Name: "length"}
	for _, r := range lines[1:] {
		v, err := strconv.ParseFloat(r[0], 64)
		require.NoError(t, err)
		length.Value = append(length.Value, v)
		var seen uint64
		for k := range 3 {
			if r[2+k] == "1" {
				seen |= 1 << k
			}
		}
		end := history.Open
		if r[5] != "" {
			end = history.Removed
		}
		h.Entry, h.Seen = append(h.Entry, r[1][0]-'0'), append(h.Seen, seen)
		h.End, h.Cohort = append(h.End, end), append(h.Cohort, 0)
	}
	h.Columns = []history.Column{length}

	var want struct {
		Minus2 float64 `json:"minus_two_log_likelihood"`
		Fifths []struct {
			Low, High float64
			Releases  int
			Sites     []struct {
				Site, Seen   int
				Expected, SD float64
			}
		}
	}
	text, err := os.ReadFile("testdata/fifths/fifths.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &want))
	require.Len(t, want.Fifths, 5)

	fit := fitOf(t, model.Input{Histories: h}, "reach + length", "site + length")
	assert.InDelta(t, want.Minus2, fit.MinusTwoLogLikelihood, 1e-6)
	got := assess.Covariates(fit)
	require.Len(t, got, 1)
	require.Len(t, got[0].Quintiles, 5)
	for i, w := range want.Fifths {
		q := got[0].Quintiles[i]
		assert.Equal(t, []float64{w.Low, w.High}, []float64{q.Low, q.High}, i)
		assert.Equal(t, 120, q.Fish, i)
		assert.Equal(t, w.Releases, q.Releases, i)
		require.Len(t, q.Sites, 3)
		seen, expected := 0, 0.0
		for k, at := range w.Sites {
			assert.Equal(t, at.Site, q.Sites[k].Site)
			assert.Equal(t, at.Seen, q.Sites[k].Seen, "fifth %d, site %d", i, at.Site)
			// 1e-4 of a fish: Powell's method, without derivatives, stops within
			// about 1e-6 of each coefficient.
			assert.InDelta(t, at.Expected, q.Sites[k].Expected, 1e-4, "fifth %d, site %d", i, at.Site)
			assert.InDelta(t, at.SD, q.Sites[k].SE, 1e-4, "fifth %d, site %d", i, at.Site)
			assert.InDelta(t, (float64(at.Seen)-at.Expected)/at.SD, q.Sites[k].Residual(), 1e-4)
			seen, expected = seen+at.Seen, expected+at.Expected
		}
		assert.Equal(t, seen, q.SeenAgain)
		assert.InDelta(t, expected, q.Expected, 1e-4)
	}
	// The middle fifth survives better than a straight line has it.
	assert.Greater(t, got[0].Quintiles[2].Sites[0].Residual(), 1.0)
}
