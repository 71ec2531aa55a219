package assess_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// lengths are fish on a river of sites sites, whose logit of survival is
// base + line(z) with z a standard normal number of theirs.
func lengths(n, sites int, detection float64, line func(z float64) float64, seed uint64) *history.Histories {
	rnd := rand.New(rand.NewPCG(seed, 0))
	d := design{Sites: sites, Rows: 1}
	h := &history.Histories{River: d.river(), Cohorts: []string{"all"}}
	var value []float64
	for range n {
		z := rnd.NormFloat64()
		var seen uint64
		for k := range sites - 1 {
			if rnd.Float64() >= 1/(1+math.Exp(-line(z))) {
				break
			}
			if rnd.Float64() < detection {
				seen |= 1 << uint(k)
			}
		}
		value = append(value, 120+15*z)
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, seen)
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
	}
	h.Columns = []history.Column{{Name: "length", Value: value}}
	return h
}

func fitOf(t *testing.T, in model.Input, survival, detection string) *cjs.Fit {
	t.Helper()
	p, err := model.Build(in, model.Spec{Survival: survival, Detection: detection})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// With one reach and detection held at 1 the model is a logistic regression,
// fitted here by Newton steps of its own.
func TestCovariatesAgainstLogisticRegression(t *testing.T) {
	h := lengths(3000, 2, 1, func(z float64) float64 { return 0.4 + 0.8*z - 0.4*z*z }, 4)
	f := fitOf(t, model.Input{Histories: h, Holds: []model.Hold{{Reach: -1, Row: 0, Value: 1}}}, "reach + length", "site")
	got := assess.Covariates(f)
	require.Len(t, got, 1)
	require.Len(t, got[0].Quintiles, 5)

	x := h.Columns[0].Value
	a, b := 0.0, 0.0
	for range 30 {
		var ga, gb, haa, hab, hbb float64
		for i := range x {
			u := (x[i] - 120) / 15
			p := 1 / (1 + math.Exp(-a-b*u))
			r := float64(h.Seen[i]) - p
			ga += r
			gb += r * u
			haa += p * (1 - p)
			hab += p * (1 - p) * u
			hbb += p * (1 - p) * u * u
		}
		det := haa*hbb - hab*hab
		a, b = a+(hbb*ga-hab*gb)/det, b+(haa*gb-hab*ga)/det
	}
	fish, observed, expected := 0, 0, 0.0
	for i, q := range got[0].Quintiles {
		n, seen, e, v := 0, 0, 0.0, 0.0
		for j := range x {
			if x[j] >= q.Low && x[j] <= q.High {
				p := 1 / (1 + math.Exp(-a-b*(x[j]-120)/15))
				n++
				seen += int(h.Seen[j])
				e += p
				v += p * (1 - p)
			}
		}
		assert.Equal(t, 600, q.Fish)
		assert.Equal(t, n, q.Releases, i)
		assert.Equal(t, seen, q.SeenAgain, i)
		// 1e-5: two optimisers stop within that of the maximum.
		assert.InDelta(t, e, q.Expected, 1e-5, i)
		assert.InDelta(t, math.Sqrt(v), q.SE, 1e-5, i)
		fish += n
		observed += seen
		expected += q.Expected
	}
	assert.Equal(t, 3000, fish)
	// The score equation of the intercept.
	assert.InDelta(t, float64(observed), expected, 1e-4)
	// The truth bends, the model does not.
	w := assess.CovariateWarnings(got)
	require.Len(t, w, 1)
	assert.Equal(t, assess.WarnCovariate, w[0].ID)
	assert.Equal(t, "length", w[0].About)
}

// Over a whole river the fit expects what is observed where its model is
// right, and the tables are said to come before covariates.
func TestCovariatesOverARiver(t *testing.T) {
	h := lengths(3000, 5, 0.6, func(z float64) float64 { return 1 + 0.5*z }, 9)
	f := fitOf(t, model.Input{Histories: h}, "reach + length", "site")
	list := assess.Covariates(f)
	assert.Empty(t, assess.CovariateWarnings(list))
	releases, seen, expected := 0, 0, 0.0
	for _, q := range list[0].Quintiles {
		releases += q.Releases
		seen += q.SeenAgain
		expected += q.Expected
	}
	table := h.NextSeen()
	all, again := 0, 0
	for i := range table {
		all += table[i].Released
		again += table[i].Released - table[i].Never()
	}
	assert.Equal(t, all, releases)
	assert.Equal(t, again, seen)
	assert.InDelta(t, float64(seen), expected, 0.02*float64(seen))
	assert.True(t, assess.OfModel(f.Problem).BeforeCovariates)

	flat := fitOf(t, model.Input{Histories: h}, "reach", "site")
	assert.Nil(t, assess.Covariates(flat))
	assert.False(t, assess.OfModel(flat.Problem).BeforeCovariates)
}

// Fish of one value stay together; those without one are counted apart.
func TestQuintiles(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	h := lengths(1000, 4, 0.6, func(float64) float64 { return 1 }, 2)
	v := h.Columns[0].Value
	for i := range v {
		switch at := i % 50; {
		case i < 50:
			v[i] = math.NaN()
		case at < 9:
			v[i] = 100 // 18 %: the lowest fifth
		case at < 19:
			v[i] = 110 // 20 %, the middle at 28 %: the second
		default:
			v[i] = 120
		}
	}
	f := fitOf(t, model.Input{Histories: h, Missing: "mean"}, "reach + length", "site")
	c := assess.Covariates(f)[0]
	assert.Equal(t, 50, c.Missing)
	require.Len(t, c.Quintiles, 3)
	for i, q := range c.Quintiles {
		assert.Equal(t, float64(100+10*i), q.Low)
		assert.Equal(t, q.Low, q.High)
		assert.Equal(t, []int{171, 190, 589}[i], q.Fish)
	}
}

// TestCovariatesInAnOutage: late fish are long, and the last site stood still when
// they came. The model holds, and the numbers seen again are those expected, which
// are those of when each fish came.
func TestCovariatesInAnOutage(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	d := design{Fish: []int{1500}, Sites: 4, Survival: 0.85, Detection: 0.6, Rows: 1, idle: map[int][2]float64{2: {22, 40}}}
	rnd := rand.New(rand.NewPCG(81, 0))
	h := d.simulate(rnd)
	c := history.Column{Name: "length"}
	for i := range h.Len() {
		c.Value = append(c.Value, 100+float64(i%daysOfRun)+rnd.NormFloat64())
	}
	h.Columns = []history.Column{c}
	in := model.Input{Histories: h, Working: d.working(), Holds: []model.Hold{{Reach: -1, Row: 2, Value: 0.6}}}
	f := fitOf(t, in, "reach + length", "row")
	got := assess.Covariates(f)
	require.Len(t, got[0].Quintiles, 5)
	for i, q := range got[0].Quintiles {
		// The smallest probability of ten is below 0.01 in a tenth of the studies;
		// 3.3 standard deviations in one of a hundred.
		assert.Less(t, math.Abs(q.Residual()), 3.3, i)
	}
}
