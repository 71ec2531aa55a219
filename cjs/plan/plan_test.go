package plan_test

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/history"
)

var names = []string{"Mill Lade", "Alder Ford", "Scar Weir", "Fell Bridge", "Sea Lock", "Tidehead"}

// river is n sites ending at Tidehead, without rows, 10 km apart.
func river(n int) history.River {
	r := history.River{}
	for k := range n {
		name := names[k]
		if k == n-1 {
			name = "Tidehead"
		}
		r.Sites = append(r.Sites, history.Site{Name: name, Km: float64(10 * (n - 1 - k)), Days: math.NaN()})
	}
	return r
}

// single is a plan of one cohort with these values at undivided sites.
func single(fish int, survival, detection []float64) *plan.Plan {
	p := &plan.Plan{River: river(len(survival) + 1)}
	c := plan.Cohort{Name: "all", Fish: fish}
	for k, v := range survival {
		c.Survival = append(c.Survival, len(p.Values))
		p.Values = append(p.Values, plan.Value{About: "survival " + p.River.Reach(k), Low: v, High: v})
	}
	for b, v := range detection {
		c.Detection = append(c.Detection, len(p.Values))
		p.Values = append(p.Values, plan.Value{About: "detection at " + p.River.RowLabel(b), Low: v, High: v})
	}
	p.Cohorts = []plan.Cohort{c}
	return p
}

func forecast(t testing.TB, p *plan.Plan) *plan.Forecast {
	t.Helper()
	f, err := plan.New(context.Background(), p)
	require.NoError(t, err)
	return f
}

// line is the line about all fish (or of, a cohort) of the kind that ends at site.
func line(t testing.TB, lines []plan.Line, site int, of string) plan.Line {
	t.Helper()
	for _, l := range lines {
		if l.Site == site && l.Row < 0 && (of == "" && len(l.Of) == 0 || len(l.Of) == 1 && l.Of[0].Level == of) {
			return l
		}
	}
	require.Fail(t, "no such line", "%d %s in %v", site, of, lines)
	return plan.Line{}
}

// TestClosedForm holds the expected standard errors to the large-sample ones
// of the single release cjs4 (Seber 1982, Burnham et al. 1987; values in
// testdata/published/closed_form, whose counts are exactly the expected ones of
// these probabilities). The file's standard errors come from differences good
// to some 2e-7, hence 1e-6 relative; TestClosedFormGrid is closer.
func TestClosedForm(t *testing.T) {
	var doc struct {
		Values struct {
			Cjs4 struct {
				R        []float64
				Phi      []float64
				PhiSE    []float64 `json:"phi_se"`
				P        []float64
				PSE      []float64 `json:"p_se"`
				Lambda   float64
				LambdaSE float64 `json:"lambda_se"`
				PathSE   float64 `json:"S_product_se_with_cov"`
			}
			TwoRow struct {
				PUp    float64 `json:"p_up"`
				UpSE   float64 `json:"p_up_se"`
				PDown  float64 `json:"p_down"`
				DownSE float64 `json:"p_down_se"`
				Passed float64 `json:"N_passed_LP"`
			} `json:"two_row"`
		}
	}
	data, err := os.ReadFile("../../testdata/published/closed_form/closed_form.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &doc))
	w := doc.Values.Cjs4
	require.NotEmpty(t, w.PhiSE)
	// Any split of the last product will do.
	f := forecast(t, single(int(w.R[0]), append(w.Phi, 0.8), append(w.P, w.Lambda/0.8)))
	for k, se := range w.PhiSE {
		assert.InEpsilon(t, se, f.Survival[k].SE, 1e-6)
	}
	for k, se := range w.PSE {
		assert.InEpsilon(t, se, f.Detection[k].SE, 1e-6)
	}
	require.Len(t, f.Products, 1)
	assert.InEpsilon(t, w.LambdaSE, f.Products[0].SE, 1e-6)
	assert.InEpsilon(t, w.PathSE, line(t, f.Passed, 2, "").SE, 1e-6)
	assert.Equal(t, cjs.Inseparable, f.Survival[2].Status)
	assert.Equal(t, cjs.Inseparable, line(t, f.Passed, 3, "").Status)
	assert.Equal(t, 6, f.Parameters)
	assert.Equal(t, 5, f.Estimable)
	require.Len(t, f.Cannot, 1)
	assert.Equal(t, plan.CannotSeparate, f.Cannot[0].ID)
	assert.Contains(t, f.Cannot[0].Message, "Survival Scar Weir to Tidehead and detection at Tidehead are not separately estimable")
	assert.Empty(t, f.Cautions)

	// Two rows at one site: their standard errors are those of two binomials.
	rows := doc.Values.TwoRow
	p := single(10000, []float64{rows.Passed / 10000}, []float64{rows.PUp})
	q, err := p.Apply(&plan.Option{What: "row", Site: "Tidehead", Detection: rows.PDown})
	require.NoError(t, err)
	f = forecast(t, q)
	require.Len(t, f.Detection, 3)
	assert.InEpsilon(t, rows.UpSE, f.Detection[0].SE, 1e-9)
	assert.InEpsilon(t, rows.DownSE, f.Detection[1].SE, 1e-9)
	assert.Empty(t, f.Cannot)
}

// TestClosedFormGrid holds a grid of single releases to the large-sample
// variances of Jolly (1965) and Seber (1982), at their expected counts:
//
//	var S_i = S_i² [ (M−m)(M−m+R)/M² (1/r − 1/R) at i+1 + (M_i−m_i)/(M_i−m_i+R_i) (1/r_i − 1/R_i) + (1−S_i)/M_{i+1} ]
//	var p_i = (p_i (1−p_i))² (1/r_i − 1/R_i + 1/m_i + 1/z_i)
//
// with M passed i, m seen, R released, r of these seen again, z passed unseen
// and seen later. The formulas are from memory of these works; that for S_1
// and p agrees with closed_form.json. Tolerance 1e-8 relative: rounding in the
// pseudo-inverse.
func TestClosedFormGrid(t *testing.T) {
	for n, d := range []struct {
		fish                int
		survival, detection []float64
	}{
		{500, []float64{0.9, 0.7, 0.8}, []float64{0.3, 0.6, 0.5}},
		{2000, []float64{0.5, 0.95, 0.6, 0.85}, []float64{0.15, 0.8, 0.4, 0.7}},
		{1200, []float64{0.99, 0.98, 0.5, 0.4, 0.9}, []float64{0.5, 0.05, 0.9, 0.99, 0.3}},
	} {
		f := forecast(t, single(d.fish, d.survival, d.detection))
		last := len(d.survival)
		M, m, R, r, z := make([]float64, last+1), make([]float64, last+1), make([]float64, last+1), make([]float64, last+1), make([]float64, last+1)
		again := make([]float64, last+1) // seen below i, given alive at i
		for i := last - 1; i >= 0; i-- {
			again[i] = d.survival[i] * (d.detection[i] + (1-d.detection[i])*again[i+1])
		}
		R[0] = float64(d.fish)
		r[0] = R[0] * again[0]
		alive := R[0]
		for i := 1; i < last; i++ {
			M[i] = alive * d.survival[i-1]
			alive = M[i]
			m[i] = M[i] * d.detection[i-1]
			R[i] = m[i]
			r[i] = R[i] * again[i]
			z[i] = (M[i] - m[i]) * again[i]
		}
		for i := range last - 1 {
			j := i + 1
			v := (M[j] - m[j]) * (M[j] - m[j] + R[j]) / (M[j] * M[j]) * (1/r[j] - 1/R[j])
			v += (M[i] - m[i]) / (M[i] - m[i] + R[i]) * (1/r[i] - 1/R[i])
			v += (1 - d.survival[i]) / M[j]
			assert.InEpsilon(t, d.survival[i]*math.Sqrt(v), f.Survival[i].SE, 1e-8, "design %d survival %d", n, i)
			p := d.detection[i]
			assert.InEpsilon(t, p*(1-p)*math.Sqrt(1/r[j]-1/R[j]+1/m[j]+1/z[j]), f.Detection[i].SE, 1e-8, "design %d detection %d", n, i)
		}
		product := d.survival[last-1] * d.detection[last-1]
		assert.InEpsilon(t, math.Sqrt(product*(1-product)/R[last-1]), f.Products[0].SE, 1e-8)
	}
}
