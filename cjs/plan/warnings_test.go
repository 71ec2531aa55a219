package plan_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
)

// TestEveryWarning walks all IDs of a forecast: each is raised by the plan that
// must raise it, holding the facts, and not by a near one.
func TestEveryWarning(t *testing.T) {
	gate := func(detection string) *plan.Plan {
		p := single(300, []float64{0.8, 0.7}, []float64{0.5, 0.4})
		p.River.Sites[1].Attributes = map[string]float64{"gate": 1}
		p.River.Sites[2].Attributes = map[string]float64{"gate": 0}
		p.Spec.Detection = detection
		p.TestPasses = []model.TestPasses{{Row: 1, Passes: 50}}
		return p
	}
	same := func(survival float64) *plan.Plan {
		p := single(300, []float64{0.8, survival}, []float64{0.5, 0.4})
		p.Spec.Survival = "same"
		return p
	}
	tested := single(300, []float64{0.8}, []float64{0.5})
	tested.TestPasses = []model.TestPasses{{Row: 0, Passes: 50}}
	cases := []struct {
		id          string
		raise, near *plan.Plan
		facts       []string
	}{
		{plan.CannotSeparate, single(300, []float64{0.8}, []float64{0.5}), tested, []string{"Mill Lade to ", "detection at "}},
		{plan.CannotEstimate, gate("site + gate"), gate("gate"), []string{"5", "4"}},
		{plan.AtBound, single(300, []float64{0.8, 0.7}, []float64{1, 0.4}), single(300, []float64{0.8, 0.7}, []float64{0.99, 0.4}), []string{"detection at Alder Ford"}},
		// 0.5·0.4·0.5·0.5 = 1 in 20 is seen at Alder Ford and again below.
		{plan.FewAgain, single(99, []float64{0.5, 0.5}, []float64{0.4, 0.5}), single(101, []float64{0.5, 0.5}, []float64{0.4, 0.5}), []string{"Alder Ford", "5.0"}},
		{plan.FewAgain, single(80, []float64{0.5, 0.5}, []float64{0.4, 0.5}), single(160, []float64{0.5, 0.5}, []float64{0.4, 0.5}), []string{"Alder Ford", "4.0"}},
		// One survival for 0.8 and 0.81 is off by half a hundredth or so, for
		// 0.8 and 0.802 by a thousandth.
		{plan.NotExact, same(0.81), same(0.802), []string{"survival: same", "0.00"}},
	}
	for _, id := range plan.WarningIDs {
		found := false
		for _, c := range cases {
			found = found || c.id == id
		}
		assert.True(t, found, "%s has no plan that raises it", id)
	}
	for _, c := range cases {
		find := func(p *plan.Plan) *cjs.Warning {
			f := forecast(t, p)
			all := slices.Concat(f.Cannot, f.Cautions)
			if i := slices.IndexFunc(all, func(w cjs.Warning) bool { return w.ID == c.id }); i >= 0 {
				return &all[i]
			}
			return nil
		}
		w := find(c.raise)
		require.NotNil(t, w, c.id)
		for _, fact := range c.facts {
			assert.Contains(t, w.Message, fact)
		}
		assert.Nil(t, find(c.near), c.id)
	}
}
