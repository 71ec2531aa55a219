package plan_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// fitCjs4 fits the counts of cjs4 (testdata/published/closed_form).
func fitCjs4(t testing.TB) *cjs.Fit {
	t.Helper()
	h := &history.Histories{River: river(4), Cohorts: []string{"all"}}
	for _, r := range []struct {
		seen  uint64
		count int32
	}{{7, 120}, {3, 60}, {5, 80}, {1, 140}, {6, 60}, {2, 30}, {4, 40}, {0, 470}} {
		h.Seen = append(h.Seen, r.seen)
		h.Count = append(h.Count, r.count)
		h.Entry = append(h.Entry, 0)
		h.End = append(h.End, history.Open)
		h.Cohort = append(h.Cohort, 0)
	}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	return f
}
