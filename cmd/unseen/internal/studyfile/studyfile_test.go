package studyfile

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/plan"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/testdata/pieces"
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

	assert.Equal(t, essence(st), essence(got))
}

// essence is what a study file that is written keeps of a study, as text.
func essence(st *study.Study) string {
	var b strings.Builder
	fmt.Fprintf(&b, "title %q, missing %q\n", st.Title, st.Missing)
	for _, s := range st.River().Sites {
		fmt.Fprintf(&b, "site %q at %v, %v days, rows %q, %v\n", s.Name, s.Km, s.Days, s.Rows, s.Attributes)
	}
	for _, x := range st.TestPasses {
		fmt.Fprintf(&b, "test passes at %q %q: %d of %d, %q\n", x.Site, x.Row, x.Read, x.Passes, x.Where)
	}
	for _, x := range st.Holds {
		fmt.Fprintf(&b, "hold %q %q %q: %v %v, %q\n", x.Reach, x.Site, x.Row, x.Survival, x.Detection, x.Where)
	}
	if r := st.Retention; r != nil {
		fmt.Fprintf(&b, "kept %d of %d\n", r.Kept, r.Held)
	}
	for _, m := range st.Models {
		fmt.Fprintf(&b, "model %q\n", m.Keys())
	}
	return b.String()
}

var someWritten = []string{
	full, season,
	`title = "\u007f\u0000\u2028\uFFFD\U0001F41F \\ \""` + "\n[next_seen]\nfile=\"n.csv\"\n[[site]]\nname=\"A\"\nkm=1e300\n[[site]]\nname=\"\\u007f\"\nkm=-0.0\nattributes={ \"a.b\" = -1e-300, z = -0.0, \"\\u0085\" = 9007199254740993 }\n",
	"[histories]\nfile='h.csv'\ncohort='a \"b\"'\nkinds={ x = 'number', '' = 'category' }\n[[site]]\nname='A to B'\n[[site]]\nname='C'\nattributes={ x = inf, y = nan }\n[[hold]]\nreach='A to B to C'\nsurvival=1\nwhere={}\n",
}

func FuzzWritten(f *testing.F) { pieces.Fuzz(f, sameWritten, someWritten...) }

func TestComposedWritten(t *testing.T) { pieces.Texts(t, 300, sameWritten, someWritten...) }

// sameWritten: a study or plan that was read, written and read again is the same,
// and is written alike.
func sameWritten(t *testing.T, data []byte) {
	if plan.IsPlan(data) {
		samePlanWritten(t, data)
		return
	}
	st, err := study.Parse("in.toml", data)
	if err != nil {
		return
	}
	h := &history.Histories{}
	if table := given(st); table != nil {
		h.CohortColumn = table.Cohort
		for _, name := range slices.Sorted(maps.Keys(table.Kinds)) {
			c := history.Column{Name: name}
			if table.Kinds[name] == "category" {
				c.Levels = []string{"1"}
			}
			h.Columns = append(h.Columns, c)
		}
	}
	var first, second strings.Builder
	require.NoError(t, ForHistories(&first, st, h, "h.csv"))
	again, err := study.Parse("out.toml", []byte(first.String()))
	require.NoError(t, err, first.String())
	require.Equal(t, essence(st), essence(again))
	require.Equal(t, h.CohortColumn, again.Histories.Cohort)
	require.NoError(t, ForHistories(&second, again, h, "h.csv"))
	require.Equal(t, first.String(), second.String())
}

// given is the table of the fish; nil where there are counts alone.
func given(st *study.Study) *study.Table {
	if st.Fish != nil {
		return &st.Fish.Table
	}
	return st.Histories
}

// samePlanWritten is for plan files. Their values are rounded when they are written, so
// that only the second time must be as the first.
func samePlanWritten(t *testing.T, data []byte) {
	read := func(text []byte) (*plan.Plan, error) {
		f, err := plan.Parse("plan.toml", text)
		if err != nil {
			return nil, err
		}
		return plan.FromFile(f)
	}
	p, err := read(data)
	if err != nil {
		return
	}
	var first, second strings.Builder
	require.NoError(t, ForPlan(&first, p, "x.toml"))
	q, err := read([]byte(first.String()))
	require.NoError(t, err, first.String())
	require.NoError(t, ForPlan(&second, q, "x.toml"))
	require.Equal(t, first.String(), second.String())
	require.Equal(t, p.Title, q.Title)
	require.Equal(t, p.River.SiteNames(), q.River.SiteNames())
	p.Spec.Name = q.Spec.Name // which is ours
	require.Equal(t, p.Spec, q.Spec)
	require.Equal(t, p.TestPasses, q.TestPasses)
	require.Equal(t, fmt.Sprint(p.Holds), fmt.Sprint(q.Holds))
}
