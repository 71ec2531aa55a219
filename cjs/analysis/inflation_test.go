package analysis

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ingest"
)

// bySex is a study of 600 fish past four sites: of two sexes, detected unalike;
// the sex of each twentieth, and the length of each thirtieth, is not known.
func bySex(t *testing.T) *Data {
	t.Helper()
	dir := t.TempDir()
	rnd := rand.New(rand.NewPCG(3, 4))
	var b strings.Builder
	b.WriteString("sex,length,Mill Lade,Alder Ford,Scar Weir,Long Pool,Tidehead\n")
	for i := range 600 {
		sex, p := []string{"f", "m"}[i%2], []float64{0.3, 0.8}[i%2]
		length := fmt.Sprint(140 + rnd.IntN(60))
		if i%20 == 7 {
			sex = ""
		}
		if i%30 == 11 {
			length = ""
		}
		seen := []string{"0", "0", "0", "0"}
		for k := range seen {
			if rnd.Float64() > 0.8 {
				break
			}
			if rnd.Float64() < p {
				seen[k] = "1"
			}
		}
		fmt.Fprintf(&b, "%s,%s,1,%s\n", sex, length, strings.Join(seen, ","))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte(b.String()), 0o644))
	path := filepath.Join(dir, "study.toml")
	require.NoError(t, os.WriteFile(path, []byte(`
missing = "drop"
[histories]
file = "h.csv"
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
[[site]]
name = "Scar Weir"
[[site]]
name = "Long Pool"
[[site]]
name = "Tidehead"
`), 0o644))
	d, err := Open(t.Context(), path, ingest.Options{})
	require.NoError(t, err)
	return d
}

// The variance inflation that compare estimates is of the fish and categories
// of its models: that of fit, to the last digit, where all of them have the same.
func TestInflationOfACompare(t *testing.T) {
	d := bySex(t)
	auto := Options{EstimateInflation: true}
	sexes := model.Spec{Survival: "reach", Detection: "sex"}
	f, err := d.Fit(t.Context(), sexes, auto)
	require.NoError(t, err)
	sex := f.Fit.Options.VarianceInflation
	for _, specs := range [][]model.Spec{{sexes}, {{Survival: "reach", Detection: "same"}, sexes}} {
		r, err := d.Compare(t.Context(), specs, auto, nil)
		require.NoError(t, err)
		for _, v := range r.Variants {
			require.NoError(t, v.Err)
			assert.Equal(t, sex, v.Fit.Options.VarianceInflation, v.Name())
			assert.True(t, v.Fit.Options.InflationEstimated)
		}
	}
	// A length leaves fish out of all, those of the tables too.
	long := model.Spec{Survival: "reach + length", Detection: "sex"}
	f, err = d.Fit(t.Context(), long, auto)
	require.NoError(t, err)
	r, err := d.Compare(t.Context(), []model.Spec{sexes, long}, auto, nil)
	require.NoError(t, err)
	assert.Equal(t, f.Fit.Options.VarianceInflation, r.Variants[0].Fit.Options.VarianceInflation)
	assert.NotEqual(t, sex, f.Fit.Options.VarianceInflation)
}
