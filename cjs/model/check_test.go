package model

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
)

// twoSites are fish let go at A and seen, or not, at two rows of B.
func twoSites(t *testing.T) Input {
	t.Helper()
	h, err := history.NewHistories(history.River{Sites: []history.Site{{Name: "A"}, {Name: "B", Rows: []string{"up", "down"}}}},
		[]history.Record{{Seen: history.At("B/up"), Count: 3}, {Seen: history.At("B/up", "B/down"), Count: 4}, {Seen: history.At("B/down"), Count: 2}, {Count: 5}})
	require.NoError(t, err)
	return Input{Histories: h}
}

// What a model is built on is refused where it cannot be.
func TestInputCheck(t *testing.T) {
	for _, c := range []struct {
		says  string
		spoil func(in *Input)
	}{
		{"no detection histories", func(in *Input) { in.Histories = nil }},
		{"End has 3 values for 4 records", func(in *Input) { in.Histories.End = in.Histories.End[:3] }},
		{"the river has one site", func(in *Input) {
			in.Histories, _ = history.NewHistories(history.River{Sites: []history.Site{{Name: "A"}}}, []history.Record{{}})
		}},
		{`missing = "maen"; there are "drop" and "mean"`, func(in *Input) { in.Missing = "maen" }},
		{"a hold of reach 0 and row 0; it is of one of them", func(in *Input) { in.Holds = []Hold{{}} }},
		{"a hold of reach -1 and row -1", func(in *Input) { in.Holds = []Hold{{Reach: -1, Row: -1}} }},
		{"a hold of reach 1; the river has the reaches 0 to 0", func(in *Input) { in.Holds = []Hold{{Reach: 1, Row: -1}} }},
		{"a hold of row 2; the river has the rows 0 to 1", func(in *Input) { in.Holds = []Hold{{Reach: -1, Row: 2}} }},
		{"a held probability is between 0 and 1, not NaN", func(in *Input) { in.Holds = []Hold{{Reach: 0, Row: -1, Value: math.NaN()}} }},
		{"test passes over row 2; the river has the rows 0 to 1", func(in *Input) { in.TestPasses = []TestPasses{{Row: 2}} }},
		{"test passes at B/up: 3 read of 2", func(in *Input) { in.TestPasses = []TestPasses{{Passes: 2, Read: 3}} }},
		{"flow has numbers of 0 cohorts; there are 1", func(in *Input) { in.Conditions = []history.CohortCondition{{Name: "flow"}} }},
		{`flow has 1 numbers for cohort "all"; there are 2 sites`, func(in *Input) {
			in.Conditions = []history.CohortCondition{{Name: "flow", Mean: [][]float64{{1}}}}
		}},
		{"flow counts the fish of cohort \"all\" at 1 sites", func(in *Input) {
			in.Conditions = []history.CohortCondition{{Name: "flow", Mean: [][]float64{{1, 2}}, Fish: [][]int{{1}}}}
		}},
		{"flow of cohort \"all\" at B is +Inf", func(in *Input) {
			in.Conditions = []history.CohortCondition{{Name: "flow", Mean: [][]float64{{1, math.Inf(1)}}}}
		}},
	} {
		in := twoSites(t)
		c.spoil(&in)
		_, err := Build(in, Spec{})
		assert.ErrorContains(t, err, c.says)
	}
	_, err := Build(twoSites(t), Spec{})
	assert.NoError(t, err)
}

// Data made anew that are not of the problem are refused.
func TestAgainRefuses(t *testing.T) {
	in := twoSites(t)
	in.TestPasses = []TestPasses{{Row: 1, Passes: 9, Read: 4}}
	p, err := Build(in, Spec{})
	require.NoError(t, err)
	of := []int{0, 1, 2, 3}
	_, err = p.WithHistories(in.Histories, of, in.TestPasses)
	require.NoError(t, err)
	_, err = p.WithHistories(in.Histories, of[:2], in.TestPasses)
	assert.ErrorContains(t, err, "4 records like 2")
	_, err = p.WithHistories(in.Histories, []int{0, 1, 2, 4}, in.TestPasses)
	assert.ErrorContains(t, err, "record 4 is to be like record number 4; there are 0 to 3")
	_, err = p.WithHistories(in.Histories, of, []TestPasses{{Row: 1, Passes: 9, Read: 10}})
	assert.ErrorContains(t, err, "10 read of 9")
	_, err = p.WithHistories(&history.Histories{}, of, in.TestPasses)
	assert.ErrorContains(t, err, "no site")
	p.AsOf = time.Now().UnixMilli()
	_, err = p.WithHistories(in.Histories, of, in.TestPasses)
	assert.ErrorContains(t, err, "while the season runs")
}

// The table of parts holds together: every part that a study can name has a
// meaning, terms and, where it has links, a kind for each.
func TestPartsHoldTogether(t *testing.T) {
	for _, part := range Parts() {
		m := part.of()
		require.NotNil(t, m.terms, part)
		require.NotNil(t, m.categories, part)
		assert.NotEmpty(t, m.wrongPlace, part)
		assert.Equal(t, part.row().Links != nil, m.link != nil, part)
		assert.Len(t, m.kinds, max(1, len(part.row().Links)), part)
		assert.Equal(t, part.row().Running, part.Moves(), part)
		var s Spec
		s.SetTerms(part, "cohort")
		assert.Equal(t, "cohort", s.Terms(part))
		for _, other := range Parts() {
			if other != part {
				assert.Empty(t, s.Terms(other), "%s is not %s", other, part)
			}
		}
		s.SetLink(part, "linear")
		assert.Equal(t, s, SpecOf(s.InStudy("")), "a spec comes back from the study file")
	}
	s := Spec{Survival: "reach"}
	assert.Equal(t, "logit", s.Link(Survival))
	assert.Empty(t, s.Link(Drift))
	_, err := Build(twoSites(t), Spec{SurvivalLink: "per mile"})
	assert.EqualError(t, err, `survival link "per mile": there are logit, linear, per km, per day`)
	_, err = Build(twoSites(t), Spec{DetectionLink: "per km"})
	assert.EqualError(t, err, `detection link "per km": there are logit, linear, cloglog`)
}
