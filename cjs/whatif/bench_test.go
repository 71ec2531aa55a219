package whatif_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
)

// BenchmarkInfluences weighs 100,000 fish that the model tells apart one by one.
func BenchmarkInfluences(b *testing.B) {
	in := dipper(b)
	var records []int
	for len(records) < 100_000 {
		records = append(records, len(records)%in.Histories.Len())
	}
	h := in.Histories.Pick(records)
	rnd := rand.New(rand.NewPCG(1, 1))
	c := history.Column{Name: "mass", Value: make([]float64, h.Len())}
	for i := range c.Value {
		c.Value[i] = rnd.NormFloat64()
	}
	h.Columns = append(h.Columns, c)
	in.Histories = h
	f := fit(b, in, "reach + mass", "site")
	for b.Loop() {
		_, err := whatif.Influences(b.Context(), f, 10)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.N)*float64(h.Len())/b.Elapsed().Seconds(), "fish/s")
}
