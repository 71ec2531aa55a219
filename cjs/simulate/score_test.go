package simulate

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// TestMissesCount by hand: seven replicates, of which two hold the truth, one
// lies above it with a doubt, one gives no answer though it could, one could
// not, one is held, one failed: two of five that could tell.
func TestMissesCount(t *testing.T) {
	nan := math.NaN()
	one := func(value, low, high float64, a answer, doubted bool) replicate {
		return replicate{finished: true, estimates: []estimate{{key: key{"passed", "", "A"}, truth: 0.5, value: value, se: 0.1, low: low, high: high, answer: a, doubted: doubted}}}
	}
	r := &Result{Failed: map[string]int{}, Warned: map[string]int{}, judged: true}
	r.sum([]replicate{
		one(0.4, 0.2, 0.6, interval, false),
		one(nan, 0.3, 0.9, interval, false), // as where it is too early for a point
		one(0.9, 0.7, 1, interval, true),
		one(0.5, nan, nan, missed, true),
		one(nan, nan, nan, impossible, false),
		one(0.6, nan, nan, noneAsked, false),
		{finished: true, failed: "why"},
		{},
	})
	require.Len(t, r.Quantities, 1)
	q := &r.Quantities[0]
	assert.Equal(t, 7, r.Replicates)
	assert.Equal(t, []int{4, 3, 2, 1, 2, 0, 1}, []int{q.Given, q.Intervals, q.Missed, q.Impossible, q.Covered, q.Low, q.High})
	assert.Equal(t, 5, q.Answerable())
	assert.InDelta(t, 0.4, q.Coverage(), 1e-15)
	assert.InDelta(t, 0.5, q.Truth, 1e-15)
	assert.InDelta(t, (0.4+0.6+0.3)/3, q.Width, 1e-15)
	assert.InDelta(t, (-0.1+0.4+0+0.1)/4, q.Bias, 1e-15)
	u := q.Undoubted
	assert.Equal(t, []int{2, 2, 2, 0, 0}, []int{u.Given, u.Intervals, u.Covered, u.Low, u.High})
	assert.InDelta(t, 0, u.Bias, 1e-15) // −0.1 and 0.1
	assert.InDelta(t, 0, u.MedianError, 1e-15)
}

func threeSites(fish int, detection ...float64) *Truth {
	r := history.River{}
	for _, name := range []string{"Mill Lade", "Alder Ford", "Tidehead"} {
		r.Sites = append(r.Sites, history.Site{Name: name, Km: math.NaN(), Days: math.NaN()})
	}
	return &Truth{River: r, Cohorts: []Cohort{{Name: "all", Fish: fish, Survival: []float64{0.8, 0.7}, Detection: detection}}}
}

func informationIn(t *testing.T, truth *Truth, spec model.Spec) *information {
	t.Helper()
	require.NoError(t, truth.Check())
	s := truth.Draw(1, 1)
	p, err := model.Build(model.Input{Histories: s.Histories, TestPasses: s.TestPasses, AsOf: truth.AsOf}, spec)
	require.NoError(t, err)
	return truth.informationOf(s, p)
}

// TestWhatASampleCouldTell by what is known of the model: the last survival and
// detection stand as a product, unless detection is shared or tested; and where
// nobody was seen at the site above, nothing is told there either.
func TestWhatASampleCouldTell(t *testing.T) {
	full := model.Spec{Survival: "reach", Detection: "site"}
	n := informationIn(t, threeSites(300, 0.5, 0.6), full)
	assert.True(t, n.survival("", 0))
	assert.True(t, n.detection("", 0, 1))
	assert.True(t, n.passed("", 1))
	assert.False(t, n.survival("", 1))
	assert.False(t, n.detection("", 1, 1))
	assert.False(t, n.passed("", 2))

	n = informationIn(t, threeSites(300, 0.5, 0.6), model.Spec{Survival: "reach", Detection: "same"})
	assert.True(t, n.passed("", 2))
	assert.True(t, n.coefficient(0))

	tested := threeSites(300, 0.5, 0.6)
	tested.TestPasses = []TestPasses{{Row: 1, Passes: 20}}
	assert.True(t, informationIn(t, tested, full).passed("", 2))

	// Of 30 fish the site sees none; no re-release tells survival from detection.
	n = informationIn(t, threeSites(30, 0, 0.6), full)
	assert.False(t, n.passed("", 1))
	assert.False(t, n.detection("", 0, 1))

	// Of two cohorts the site sees one.
	two := threeSites(100, 0.5, 0.6)
	unseen := two.Cohorts[0]
	unseen.Name, unseen.Detection = "unseen", []float64{0, 0.6}
	two.Cohorts = append(two.Cohorts, unseen)
	n = informationIn(t, two, model.Spec{Survival: "reach by cohort", Detection: "site by cohort"})
	assert.True(t, n.passed("all", 1))
	assert.False(t, n.passed("unseen", 1))
	assert.False(t, n.passed("", 1))
	assert.False(t, n.survival("unseen", 0))
	assert.True(t, n.detection("all", 0, 1))
}

// TestWhatHasNoInterval: where the sample could not tell nothing is missed, and
// what is held has no interval to miss.
func TestWhatHasNoInterval(t *testing.T) {
	s := Study{Truth: *threeSites(300, 0.5, 0.6), Seed: 9, Spec: model.Spec{Survival: "reach", Detection: "site"}}
	of := func(kind, at string) *Quantity {
		r, err := s.Run(context.Background(), 1, 5, nil)
		require.NoError(t, err)
		for i := range r.Quantities {
			if q := &r.Quantities[i]; q.Kind == kind && q.At == at {
				return q
			}
		}
		t.Fatalf("no %s %s", kind, at)
		return nil
	}
	q := of("passed", "Tidehead")
	assert.Equal(t, []int{0, 0, 0, 5}, []int{q.Given, q.Intervals, q.Missed, q.Impossible})
	s.Holds = []model.Hold{{Reach: -1, Row: 1, Value: 0.6}}
	q = of("passed", "Tidehead")
	assert.Equal(t, []int{5, 5, 0, 0}, []int{q.Given, q.Intervals, q.Missed, q.Impossible})
	q = of("detection", "Tidehead")
	assert.Equal(t, []int{5, 0, 0, 0}, []int{q.Given, q.Intervals, q.Missed, q.Impossible})
}

// TestNearestCoefficientsAreTheTruth: where the model holds, its probabilities
// at the coefficients found are the true ones: additive cohorts, and a length.
func TestNearestCoefficientsAreTheTruth(t *testing.T) {
	truth := threeSites(200, 0.5, 0.6)
	truth.Covariates = []Covariate{{Name: "length", Mean: 150, SD: 10, Survival: []float64{0.05, 0.05}}}
	late := truth.Cohorts[0]
	late.Name, late.Survival = "late", []float64{moved(truth.link(0), 0.8, 0.4), moved(truth.link(1), 0.7, 0.4)}
	truth.Cohorts = append(truth.Cohorts, late)
	s := truth.Draw(3, 1)
	p, err := model.Build(model.Input{Histories: s.Histories}, model.Spec{Survival: "reach + cohort + length", Detection: "site"})
	require.NoError(t, err)
	n := truth.informationOf(s, p)
	for _, r := range []int{0, 17, 250, 399} {
		z := []float64{1, p.Z[0][r]}
		g := int(p.ClassOf[r])
		want := truth.probabilities(s, r, p.Layout)
		for slot, v := range want {
			// The ridge of the least squares is 1e-10.
			assert.InDelta(t, v, p.Design.Prob(n.x, g, slot, z).P, 1e-7)
		}
	}
	// A fish 10 mm longer than the mean: logit + 0.5.
	i := 0
	s.Histories.Columns[0].Value[i] = 160
	assert.InDelta(t, moved(truth.link(0), 0.8, 0.5), truth.probabilities(s, i, p.Layout)[p.Layout.Survival(0)], 1e-12)
}
