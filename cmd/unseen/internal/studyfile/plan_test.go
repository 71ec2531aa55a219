package studyfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/plan"
)

const season = `
title = "Hollin Water"
level = 0.9
[[site]]
name = "Mill Lade"
km = 58
[[site]]
name = "Alder Ford"
km = 36.6
rows = ["upper", "lower"]
survival = [0.7, 0.85]
detection = { upper = 0.5, lower = 0.25 }
test_passes = { lower = 60 }
removed = 0.1
[[site]]
name = "Tidehead"
km = 0
attributes = { gate = 1 }
rows = ["a", "b"]
survival = 0.9
detection = 0.6
working_share = { a = 0.8 }
[[cohort]]
name = "early"
fish = 300
[[cohort]]
name = "late"
fish = 200
site = "Alder Ford"
survival = { "Alder Ford to Tidehead" = 0.75 }
detection = { "Tidehead/b" = [0.3, 0.4] }
working_share = { "Tidehead/a" = 0.5, "Tidehead/b" = 0.75 }
[[hold]]
reach = "Mill Lade to Alder Ford"
survival = 1
where = { cohort = "early" }
[[hold]]
site = "Tidehead"
row = "b"
detection = 0.5
[[model]]
name = "m"
survival = "reach + cohort"
detection = "row"
survival_link = "per km"
`

// What was written plans what was planned.
func TestForPlan(t *testing.T) {
	read := func(text string) *plan.Plan {
		f, err := plan.Parse("plan.toml", []byte(text))
		require.NoError(t, err, text)
		p, err := plan.FromFile(f)
		require.NoError(t, err)
		return p
	}
	p := read(season)
	var b strings.Builder
	require.NoError(t, ForPlan(&b, p, "x.toml"))
	q := read(b.String())
	want, err := plan.New(t.Context(), p)
	require.NoError(t, err)
	got, err := plan.New(t.Context(), q)
	require.NoError(t, err)
	a, c := want.Lines(), got.Lines()
	require.Len(t, c, len(a))
	for i := range a {
		assert.Equal(t, p.Name(&a[i]), q.Name(&c[i]))
		assert.Equal(t, a[i].Status, c[i].Status)
		for _, x := range [][2]float64{{a[i].Value, c[i].Value}, {a[i].Half, c[i].Half}, {a[i].HalfLow, c[i].HalfLow}, {a[i].HalfHigh, c[i].HalfHigh}} {
			if x[0] == x[0] || x[1] == x[1] { // not both missing
				assert.InDelta(t, x[0], x[1], 1e-9, p.Name(&a[i]))
			}
		}
	}
	assert.Equal(t, p.Spec.Survival, q.Spec.Survival)
	assert.Equal(t, p.Spec.SurvivalLink, q.Spec.SurvivalLink)
	assert.Equal(t, p.TestPasses, q.TestPasses)
	assert.Equal(t, p.Removed, q.Removed)
	assert.Equal(t, p.Holds, q.Holds)
	for i, shares := range [][]float64{{1, 1, 0.8, 1}, {1, 1, 0.5, 0.75}} {
		assert.Equal(t, shares, p.Cohorts[i].Working)
		assert.Equal(t, shares, q.Cohorts[i].Working)
	}
	assert.Equal(t, p.Title, q.Title)

	p.Categories = []string{"sex"}
	assert.ErrorContains(t, ForPlan(&b, p, "x.toml"), "by cohort only, not by sex")
}
