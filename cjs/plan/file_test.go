package plan_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
)

const planFile = `title = "Hollin Water, spring 2026"
level = 0.9
[[site]]
name = "Mill Lade"
km   = 58.0
[[site]]
name      = "Alder Ford"
km        = 36.6
rows      = ["upper", "lower"]
survival  = [0.7, 0.85]
detection = { upper = 0.5, lower = [0.3, 0.4] }
removed   = 0.1
[[site]]
name      = "Scar Weir"
km        = 14.2
survival  = 0.8
detection = 0.6
[[site]]
name      = "Tidehead"
km        = 0
survival  = 0.9
detection = 0.6
test_passes = 80
[[cohort]]
name = "early"
fish = 300
detection = { "Alder Ford" = 0.45, "Alder Ford/lower" = 0.35 }
[[cohort]]
name = "late"
fish = 200
site = "Alder Ford"
survival = { "Alder Ford to Scar Weir" = 0.7 }
[[model]]
name = "shared detection"
detection = "row"
[[hold]]
reach = "Scar Weir to Tidehead"
survival = 0.95
where = { cohort = "late" }
`

func fromFile(t testing.TB, text string) *plan.Plan {
	t.Helper()
	f, err := plan.Parse("plan.toml", []byte(text))
	require.NoError(t, err)
	p, err := plan.FromFile(f)
	require.NoError(t, err)
	return p
}

func TestFromFile(t *testing.T) {
	p := fromFile(t, planFile)
	assert.Equal(t, 0.9, p.Level)
	assert.Equal(t, []string{"early", "late"}, p.CohortNames())
	value := func(i int) plan.Value { return p.Values[i] }
	early, late := &p.Cohorts[0], &p.Cohorts[1]
	assert.Equal(t, 1, late.Entry)
	assert.Equal(t, early.Survival[0], late.Survival[0]) // one value, one range
	assert.Equal(t, 0.85, value(early.Survival[0]).High)
	assert.Equal(t, 0.8, value(early.Survival[1]).Low)
	assert.Equal(t, 0.7, value(late.Survival[1]).Low)
	assert.Equal(t, []float64{0.45, 0.35}, []float64{value(early.Detection[0]).Low, value(early.Detection[1]).Low})
	assert.Equal(t, 0.6, value(late.Detection[3]).Low)
	assert.Equal(t, []model.TestPasses{{Row: 3, Passes: 80}}, p.TestPasses)
	assert.Equal(t, []float64{0, 0.1, 0, 0}, p.Removed)
	assert.Equal(t, []model.Hold{{Reach: 2, Row: -1, Value: 0.95, Where: map[string]string{"cohort": "late"}}}, p.Holds)
	assert.Equal(t, "row", p.Spec.Detection)

	f := forecast(t, p)
	// Early and late share no reach above Alder Ford, where late enters.
	for _, l := range f.Survival {
		if len(l.Of) == 1 && l.Of[0].Level == "late" {
			assert.Positive(t, l.From)
			if l.From == 2 {
				assert.Equal(t, cjs.Held, l.Status)
				assert.Equal(t, 0.95, l.Value)
			}
		}
	}
	// The rows at Alder Ford are seen by early fish only, whose values are
	// single: no range is left but the survival above. No fish enter the
	// reach that late's own range would be about.
	ranged := 0
	for _, v := range p.Values {
		if v.Low < v.High {
			ranged++
		}
	}
	assert.Equal(t, 1, ranged)
	for _, c := range f.Cautions {
		assert.NotEqual(t, plan.NotExact, c.ID)
	}
	assert.Empty(t, f.Cannot)
}

// TestModelThatCannotHoldTheValues says so.
func TestModelThatCannotHoldTheValues(t *testing.T) {
	p := tworows()
	p.Spec.Survival, p.Spec.Detection = "same", "site"
	f := forecast(t, p)
	require.Len(t, f.Cautions, 1)
	assert.Equal(t, plan.NotExact, f.Cautions[0].ID)
	assert.Contains(t, f.Cautions[0].Message, "survival: same · detection: site")

	// And a model with more terms than the design can tell apart.
	p = single(300, []float64{0.8, 0.7}, []float64{0.5, 0.4})
	p.River.Sites[1].Attributes = map[string]float64{"gate": 1}
	p.River.Sites[2].Attributes = map[string]float64{"gate": 0}
	p.Spec.Detection = "site + gate"
	f = forecast(t, p)
	assert.Less(t, f.Estimable, f.Parameters)
	assert.NotEmpty(t, f.Cannot)

	p.Spec.Detection = "gaet"
	_, err := plan.New(t.Context(), p)
	assert.ErrorContains(t, err, "gaet")
}

// TestCannotOneSite: with one site nothing but the share seen can be had, and
// two cohorts with a model of their own for one of them are told by name.
func TestCannotOneSite(t *testing.T) {
	f := forecast(t, single(300, []float64{0.8}, []float64{0.5}))
	require.Len(t, f.Cannot, 1)
	assert.Contains(t, f.Cannot[0].Message, "how many passed unseen is not identifiable")
	assert.InDelta(t, 0.4, f.Products[0].Value, 1e-12)

	// Cohort late is held at the last site, early is not.
	p := single(300, []float64{0.8, 0.7}, []float64{0.5, 0.4})
	late := p.Cohorts[0]
	late.Name = "late"
	p.Cohorts[0].Name = "early"
	p.Cohorts = append(p.Cohorts, late)
	p.Spec.Detection = "site by cohort"
	p.Holds = []model.Hold{{Reach: -1, Row: 1, Value: 0.4, Where: map[string]string{"cohort": "late"}}}
	f = forecast(t, p)
	require.Len(t, f.Cannot, 1)
	assert.Contains(t, f.Cannot[0].Message, "detection at Tidehead of early are not separately estimable")
	assert.Equal(t, cjs.Inseparable, line(t, f.Passed, 2, "early").Status)
	assert.Equal(t, cjs.Estimated, line(t, f.Passed, 2, "late").Status)
}

func TestBoundIsSaid(t *testing.T) {
	f := forecast(t, single(300, []float64{0.8, 0.7, 0.9}, []float64{1, 0.4, 0.5}))
	require.Len(t, f.Cautions, 1)
	assert.Equal(t, plan.AtBound, f.Cautions[0].ID)
	assert.Contains(t, f.Cautions[0].Message, "detection at Alder Ford")
	assert.Equal(t, cjs.Boundary, f.Detection[0].Status)
	assert.Equal(t, 1.0, f.Detection[0].Value)
}
