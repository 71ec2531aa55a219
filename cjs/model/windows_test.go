package model_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// TestWindowsWithoutTimes: windows of histories without times, or of a river without
// km, are refused, with the bounds: by the share of the passages that fell into the
// outage where it is known, 30 and 10 fish of which .6 and 1 passed at work.
func TestWindowsWithoutTimes(t *testing.T) {
	idle := time.Date(2025, 4, 5, 0, 0, 0, 0, time.UTC)
	input := func() model.Input {
		h := &history.Histories{Cohorts: []string{"early", "late"},
			River: history.River{Sites: []history.Site{{Name: "A", Km: 10}, {Name: "B", Km: 5}, {Name: "C", Km: 0}}},
			Entry: []uint8{0, 0}, Seen: []uint64{3, 1}, End: []history.End{history.Open, history.Open}, Cohort: []int32{0, 1}, Count: []int32{30, 10}}
		return model.Input{Histories: h, Working: [][]study.Window{nil, {{To: idle}}}}
	}
	refused := func(in model.Input) string {
		_, err := model.Build(in, model.Spec{})
		require.Error(t, err)
		return err.Error()
	}
	plain := refused(input())
	assert.Contains(t, plain, "these histories do not have")
	assert.Contains(t, plain, "between the share P that the model gives without the windows and P/(1 − s)")
	assert.Contains(t, plain, "passages of C")

	nan := math.NaN()
	in := input()
	in.WorkingShare = [][]float64{{nan, nan, 0.6}, {nan, nan, 1}}
	assert.Contains(t, refused(in), "P/(1 − 0.30), as about 30 % of the passages of C")

	in.WorkingShare[1][2] = nan // of the other cohort nothing is known
	h := in.Histories
	h.Count = nil
	h.First = []int64{idle.UnixMilli() - 1e8, idle.UnixMilli() - 2e7, idle.UnixMilli() - 1e8, history.NoTime}
	h.Last = h.First
	h.Released = []int64{idle.UnixMilli() - 2e8, idle.UnixMilli() - 2e8}
	h.River.Sites[1].Km = nan
	message := refused(in)
	assert.Contains(t, message, `"B" has none`)
	assert.Contains(t, message, "P/(1 − 0.40), as about 40 % of the passages of C")
}
