package compare_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

const published = "../../testdata/published/"

func readJSON(t testing.TB, file string, into any) {
	t.Helper()
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

// TestHaldCement: AICc, weights and importance of all 15 regressions on the
// Hald cement data, held to values computed by NumPy
// (testdata/published/published_small/hald.py). Tolerance 1e-9: two ways of least
// squares in double precision.
func TestHaldCement(t *testing.T) {
	var all struct {
		Hald struct {
			X1, X2, X3, X4, Y []float64
			Computed          struct {
				Models     map[string]struct{ K, AICc, Delta, W float64 }
				Importance map[string]float64
			}
		} `json:"hald_cement_burnham2002"`
	}
	readJSON(t, published+"published_small/published_small.json", &all)
	h := all.Hald
	columns := [][]float64{h.X1, h.X2, h.X3, h.X4}
	n := len(h.Y)
	var aicc []float64
	var sets []int
	for set := 1; set < 16; set++ {
		x := mat.NewDense(n, 1, nil)
		for i := range n {
			x.Set(i, 0, 1)
		}
		k := 2
		for c, col := range columns {
			if set>>c&1 == 1 {
				k++
				wide := mat.NewDense(n, k-1, nil)
				wide.Augment(x, mat.NewDense(n, 1, col))
				x = wide
			}
		}
		y := mat.NewDense(n, 1, h.Y)
		var beta, rest mat.Dense
		require.NoError(t, beta.Solve(x, y))
		rest.Mul(x, &beta)
		rest.Sub(y, &rest)
		rss := mat.Dot(rest.ColView(0), rest.ColView(0))
		aicc = append(aicc, cjs.AICc(float64(n)*math.Log(rss/float64(n)), k, n))
		sets = append(sets, set)
	}
	best := math.Inf(1)
	for _, a := range aicc {
		best = math.Min(best, a)
	}
	weights := compare.Weights(aicc)
	require.Len(t, h.Computed.Models, len(sets))
	for i, set := range sets {
		name := ""
		for c := range 4 {
			if set>>c&1 == 1 {
				name += fmt.Sprint(c + 1)
			}
		}
		want := h.Computed.Models[name]
		assert.InDelta(t, want.AICc, aicc[i], 1e-9, name)
		assert.InDelta(t, want.Delta, aicc[i]-best, 1e-9, name)
		assert.InDelta(t, want.W, weights[i], 1e-9, name)
	}
	for c := range 4 {
		var sum float64
		for i, set := range sets {
			if set>>c&1 == 1 {
				sum += weights[i]
			}
		}
		assert.InDelta(t, h.Computed.Importance[fmt.Sprintf("x%d", c+1)], sum, 1e-9, "x%d", c+1)
	}
}

// TestCootNests: AIC from log-likelihoods and the weights' ratios (Avian
// Conservation and Ecology 6(2):1, 2011, Table 3). AICc of an endless sample is AIC.
func TestCootNests(t *testing.T) {
	var all struct {
		Coot struct{ Rows [][]any } `json:"coot_aic_aceeco2011"`
	}
	readJSON(t, published+"published_small/published_small.json", &all)
	var final, printed []float64
	for _, r := range all.Coot.Rows {
		aic := cjs.AICc(2*r[1].(float64), int(r[2].(float64)), math.MaxInt32)
		// −ln L is printed to 0.1, so AIC is good to 0.1 and rounding.
		assert.InDelta(t, r[3].(float64), aic, 0.15001, r[0])
		if w, ok := r[5].(float64); ok {
			final, printed = append(final, r[3].(float64)), append(printed, w)
		}
	}
	require.Len(t, final, 3)
	w := compare.Weights(final)
	// Only the first three of the set are printed: their ratios, each weight
	// being good to 0.005.
	assert.InDelta(t, printed[1]/printed[0], w[1]/w[0], 0.03)
	assert.InDelta(t, printed[2]/printed[0], w[2]/w[0], 0.03)
}

func dipper(t testing.TB) model.Input {
	t.Helper()
	st, err := study.Load(published + "lebreton1992/dipper.toml")
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	in, err := model.FromStudy(st, h, nil, nil)
	require.NoError(t, err)
	return in
}

// TestDipperRanking ranks models of the dipper data by the AICc of the
// reference file and tests nested pairs.
func TestDipperRanking(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t)
	specs := compare.Grid(map[model.Part][]string{model.Survival: {"same", "reach", "flood", "reach + sex"}, model.Detection: {"same", "site"}}, model.Spec{})
	specs = append(specs, model.Spec{Survival: "nonsense", Detection: "same"}, model.Spec{Survival: "sex + reach", Detection: "site"})
	calls := 0
	r, err := compare.Run(context.Background(), in, specs, cjs.Options{}, func(n, of int) { calls++; assert.Equal(t, len(specs), of) })
	require.NoError(t, err)
	assert.Equal(t, len(specs), calls)
	var want struct {
		Models []struct {
			Survival, Detection string
			AICc                float64
		}
	}
	readJSON(t, published+"lebreton1992/models.json", &want)
	aicc := map[string]float64{}
	for _, m := range want.Models {
		aicc[m.Survival+"|"+m.Detection] = m.AICc
	}
	best := aicc["flood|same"]
	var sum, evidence float64
	for i, v := range r.Variants[:8] {
		require.True(t, v.Ranked(), v.Name())
		w := aicc[v.Spec.Survival+"|"+v.Spec.Detection]
		assert.InDelta(t, w, v.Fit.AICc, 1e-6, v.Name())
		assert.InDelta(t, w-best, v.Delta, 1e-6, v.Name())
		if i > 0 {
			assert.GreaterOrEqual(t, v.Delta, r.Variants[i-1].Delta)
		}
		sum += v.Weight
		evidence = v.Evidence
	}
	assert.Equal(t, "flood", r.Variants[0].Spec.Survival)
	assert.InDelta(t, 1, sum, 1e-12)
	assert.InDelta(t, r.Variants[0].Weight/r.Variants[7].Weight, evidence, 1e-9*evidence)
	// The variant that is no model, and the one that stands twice.
	assert.ErrorContains(t, r.Variants[8].Err, "nothing in this study is called \"nonsense\"")
	assert.ErrorContains(t, r.Variants[9].Err, "the same model as")

	find := func(s, d string) *compare.Variant {
		for _, v := range r.Variants {
			if v.Fit != nil && v.Spec.Survival == s && v.Spec.Detection == d {
				return v
			}
		}
		t.Fatal(s, d)
		return nil
	}
	test, err := compare.Against(find("same", "same"), find("flood", "same"))
	require.NoError(t, err)
	assert.Equal(t, 1, test.DF)
	// 666.83766263 − 660.102774563, from the reference file.
	assert.InDelta(t, 6.734888067, test.Statistic, 1e-6)
	assert.InDelta(t, distuv.ChiSquared{K: 1}.Survival(6.734888067), test.P, 1e-8)
	_, err = compare.Against(find("flood", "same"), find("reach", "same"))
	require.NoError(t, err, "an attribute is within reach")
	_, err = compare.Against(find("reach", "same"), find("same", "site"))
	assert.ErrorContains(t, err, "not a special case")
	_, err = compare.Against(find("reach", "same"), find("same", "same"))
	assert.ErrorContains(t, err, "is the wider model")

	// Averages lie within the range of the models', and their standard error
	// is not below the weighted mean of the models' own.
	for k, s := range r.Averaged.Survival[:5] {
		low, high, own := 1.0, 0.0, 0.0
		for _, v := range r.Variants[:8] {
			e := v.Fit.Survival[k].Estimate
			low, high = min(low, e.Value), max(high, e.Value)
			own += v.Weight * e.SE
		}
		assert.True(t, s.Value >= low && s.Value <= high)
		assert.GreaterOrEqual(t, s.SE, own)
	}
	// The last survival cannot be had from reach with site.
	var ids []string
	for _, w := range r.Warnings {
		ids = append(ids, w.ID)
	}
	assert.Contains(t, ids, compare.WarnAveragedDisagree)
}

func TestInflatedComparison(t *testing.T) {
	in := dipper(t)
	specs := compare.Grid(map[model.Part][]string{model.Survival: {"same", "flood"}, model.Detection: {"same"}}, model.Spec{})
	r, err := compare.Run(context.Background(), in, specs, cjs.Options{VarianceInflation: 1.5, InflationEstimated: true}, nil)
	require.NoError(t, err)
	f := r.Variants[0].Fit
	assert.Equal(t, "flood", r.Variants[0].Spec.Survival)
	// QAICc: −2 ln L over the inflation, one parameter more (Burnham & Anderson 2002, p. 69–70).
	k, n := 4.0, 426.0
	assert.InDelta(t, 660.102774563/1.5+2*k+2*k*(k+1)/(n-k-1), f.AICc, 1e-6)
	test, err := compare.Against(r.Variants[1], r.Variants[0])
	require.NoError(t, err)
	assert.True(t, test.F)
	assert.InDelta(t, 6.734888067/1.5, test.Statistic, 1e-6)
}

func TestNothingToCompare(t *testing.T) {
	_, err := compare.Run(context.Background(), dipper(t), nil, cjs.Options{}, nil)
	assert.ErrorContains(t, err, "no model to compare")
	r, err := compare.Run(context.Background(), dipper(t), []model.Spec{{Survival: "+"}}, cjs.Options{}, nil)
	assert.ErrorContains(t, err, "no variant could be fitted")
	assert.Len(t, r.Variants, 1)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = compare.Run(ctx, dipper(t), []model.Spec{{}}, cjs.Options{}, nil)
	assert.ErrorIs(t, err, context.Canceled)
}
