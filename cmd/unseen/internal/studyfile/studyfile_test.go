package studyfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

const full = `
title = "Smolts \"of\" Mill Lade \\ 川"
missing = "drop"
[fish]
file = "f.csv"
cohort = "batch"
[sightings]
files = ["a.csv"]
[[site]]
name = "A"
km = 12.5
[[site]]
name = "B, \"lower\""
km = 3
rows = { upper = ["n"], "low er" = ["s"] }
attributes = { gate = 1, days = 2.5 }
[[site]]
name = "C"
km = 0.0000001
[[test_passes]]
site = "B, \"lower\""
row = "low er"
passes = 60
read = 41
where = { batch = "early", sex = "f" }
[[hold]]
reach = "A to B, \"lower\""
survival = 1
[[hold]]
site = "C"
detection = 0.25
where = { batch = "late" }
[retention]
held = 500
kept = 492
[[model]]
name = "m"
survival = "reach + \"odd name\""
survival_link = "per km"
[[model]]
name = "n"
detection = "same"
detection_link = "linear"
drift = "cohort"
spread = "same"
rest = "same"
`

// What was written reads as what it was written from, but for the tables and
// the places in the file.
func TestForHistoriesReadsBack(t *testing.T) {
	st, err := study.Parse("in.toml", []byte(full))
	require.NoError(t, err)
	h := &history.Histories{CohortColumn: "batch", Columns: []history.Column{
		{Name: "age", Levels: []string{"1"}, Level: []int32{0}}, {Name: "fork length", Value: []float64{1}}}}
	var b strings.Builder
	require.NoError(t, ForHistories(&b, st, h, "histories.csv"))
	got, err := study.Parse("out.toml", []byte(b.String()))
	require.NoError(t, err, b.String())

	require.NotNil(t, got.Histories)
	assert.Equal(t, "histories.csv", got.Histories.File)
	assert.Equal(t, "batch", got.Histories.Cohort)
	assert.Equal(t, map[string]string{"age": "category", "fork length": "number"}, got.Histories.Kinds)

	assert.Equal(t, st.Title, got.Title)
	assert.Equal(t, st.Missing, got.Missing)
	assert.Equal(t, len(st.River().Sites), len(got.River().Sites))
	for i, want := range st.River().Sites {
		is := got.River().Sites[i]
		assert.Equal(t, want.Name, is.Name)
		assert.Equal(t, want.Rows, is.Rows)
		assert.Equal(t, want.Attributes, is.Attributes)
		assert.Equal(t, want.Km, is.Km)
		assert.Equal(t, number(want.Days), number(is.Days)) // NaN is itself
	}
	for i := range st.TestPasses {
		want, is := st.TestPasses[i], got.TestPasses[i]
		want.Pos, want.WherePos = is.Pos, is.WherePos
		assert.Equal(t, want, is)
	}
	require.Len(t, got.Holds, 2)
	for i := range st.Holds {
		want, is := st.Holds[i], got.Holds[i]
		assert.Equal(t, want.Reach+want.Site+want.Row, is.Reach+is.Site+is.Row)
		assert.Equal(t, number(want.Survival), number(is.Survival))
		assert.Equal(t, number(want.Detection), number(is.Detection))
		assert.Equal(t, want.Where, is.Where)
	}
	assert.Equal(t, 500, got.Retention.Held)
	assert.Equal(t, 492, got.Retention.Kept)
	require.Len(t, got.Models, 2)
	for i := range st.Models {
		assert.Equal(t, st.Models[i].Keys(), got.Models[i].Keys())
	}
}
