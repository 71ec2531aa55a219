package replicate_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

// dipperFit is a model of the dipper data (Lebreton et al. 1992).
func dipperFit(t testing.TB, spec model.Spec) *cjs.Fit {
	t.Helper()
	st, err := study.Load("../../testdata/published/lebreton1992/dipper.toml")
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	p, err := model.Build(model.Input{Histories: h}, spec)
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	return f
}

var reachSite = model.Spec{Survival: "reach", Detection: "site"}

// BenchmarkDipper is 1,000 bootstrap refits, simulation included.
func BenchmarkDipper(b *testing.B) {
	f := dipperFit(b, reachSite)
	for b.Loop() {
		if _, err := replicate.Run(context.Background(), f, 1, 1000, replicate.Options{Seed: 1}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(1000*float64(b.N)/b.Elapsed().Seconds(), "refits/s")
}
