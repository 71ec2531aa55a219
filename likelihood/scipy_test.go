package likelihood

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// TestFunctionsAgainstSciPy holds the links, and the distributions of the
// library we use for tests and intervals, to SciPy 1.10.1
// (testdata/published/scipy/functions.json).
func TestFunctionsAgainstSciPy(t *testing.T) {
	var want struct {
		Expit []struct{ X, Value, Complement float64 }
		Logit []struct{ P, Value float64 }
		Rate  []struct{ Eta, Length, Survival, Mortality float64 }
		Chi2Q []struct{ P, DF, Value float64 }       `json:"chi2_quantile"`
		Chi2  []struct{ X, DF, Value float64 }       `json:"chi2_tail"`
		F     []struct{ X, DF1, DF2, Value float64 } `json:"f_tail"`
		Norm  []struct{ P, Value float64 }           `json:"normal_quantile"`
	}
	b, err := os.ReadFile("../testdata/published/scipy/functions.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &want))
	// 1e-12 relative: a few roundings. near lets zero be zero.
	near := func(w, g float64, what any) {
		t.Helper()
		if w == 0 {
			assert.InDelta(t, w, g, 1e-15, what)
			return
		}
		assert.InEpsilon(t, w, g, 1e-12, what)
	}
	require.NotEmpty(t, want.Expit)
	for _, v := range want.Expit {
		p, q := Expit(v.X)
		near(v.Value, p, v)
		near(v.Complement, q, v)
	}
	require.NotEmpty(t, want.Logit)
	for _, v := range want.Logit {
		near(v.Value, LogitOf(v.P), v)
		near(v.Value, Link{Kind: Logit}.Inverse(v.P), v)
	}
	require.NotEmpty(t, want.Rate)
	for _, v := range want.Rate {
		pr := Link{Kind: Rate, Length: v.Length}.At(v.Eta)
		near(v.Survival, pr.P, v)
		near(v.Mortality, pr.Q, v)
		// The complementary log-log is the rate with seen and unseen changed over.
		c := Link{Kind: CLogLog, Length: v.Length}
		near(v.Mortality, c.At(v.Eta).P, v)
		near(v.Survival, c.At(v.Eta).Q, v)
	}
	require.NotEmpty(t, want.Chi2Q)
	for _, v := range want.Chi2Q {
		// 1e-10: the library's inverse is iterated to that.
		assert.InEpsilon(t, v.Value, distuv.ChiSquared{K: v.DF}.Quantile(v.P), 1e-10)
	}
	require.NotEmpty(t, want.Chi2)
	for _, v := range want.Chi2 {
		assert.InEpsilon(t, v.Value, distuv.ChiSquared{K: v.DF}.Survival(v.X), 1e-10)
	}
	require.NotEmpty(t, want.F)
	for _, v := range want.F {
		assert.InEpsilon(t, v.Value, distuv.F{D1: v.DF1, D2: v.DF2}.Survival(v.X), 1e-10)
	}
	require.NotEmpty(t, want.Norm)
	for _, v := range want.Norm {
		near(v.Value, distuv.UnitNormal.Quantile(v.P), v)
	}
}
