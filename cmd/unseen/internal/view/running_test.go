package view

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

func runningData(t *testing.T, asOf, lastDay string) *analysis.Data {
	t.Helper()
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	st := &study.Study{Location: dublin}
	if st.AsOf, err = time.Parse(time.RFC3339, asOf); asOf != "" {
		require.NoError(t, err)
	}
	if st.LastDay, err = time.ParseInLocation(time.DateOnly, lastDay, dublin); lastDay != "" {
		require.NoError(t, err)
	}
	return &analysis.Data{Study: st, Result: &ingest.Result{Histories: &history.Histories{}}}
}

// Midnight in Dublin in summer is 23:00 in UTC.
func TestThrough(t *testing.T) {
	assert.Equal(t, "20 April 2025", through(runningData(t, "2025-04-20T23:00:00Z", "").Source()))
	assert.Equal(t, "20 April 2025 12:30 IST", through(runningData(t, "2025-04-20T11:30:00Z", "").Source()))
}

// The end of last_day ends the season.
func TestRunning(t *testing.T) {
	for _, c := range []struct {
		asOf, lastDay string
		want          bool
	}{
		{"", "", false}, {"2025-04-20T23:00:00Z", "", true}, {"2025-04-20T22:59:00Z", "2025-04-20", true},
		{"2025-04-20T23:00:00Z", "2025-04-20", false}, {"2025-04-20T23:00:00Z", "2025-04-21", true}, {"", "2025-04-20", false},
	} {
		assert.Equal(t, c.want, runningData(t, c.asOf, c.lastDay).Running(), "%+v", c)
	}
}

func TestStamped(t *testing.T) {
	section := Section{Heading: "Passed", Tables: []Table{
		{ID: "passed", Columns: []Column{{Name: "site", Title: "site"}}, Rows: [][]Cell{{T("Tidehead")}}},
		{Columns: []Column{{Title: "site"}, {Title: "seen", Kind: Count}}, Rows: [][]Cell{{T("Tidehead"), I(1)}}},
	}}
	d := runningData(t, "2025-04-20T23:00:00Z", "")
	got := StampedSection(d.Source(), section)
	assert.Equal(t, "Passed · data through 20 April 2025", got.Heading)
	assert.Equal(t, "data_through", got.Tables[0].Columns[1].Name)
	assert.Empty(t, got.Tables[0].Columns[1].Title, "people read it in the heading")
	assert.Equal(t, "2025-04-20T23:00:00Z", got.Tables[0].Rows[0][1].Text)
	assert.Len(t, got.Tables[1].Columns, 2, "no CSV is made of a table without ID")
	assert.Len(t, section.Tables[0].Columns, 1, "the section given was changed")
	assert.Len(t, section.Tables[0].Rows[0], 1, "the section given was changed")
	assert.Equal(t, "Words", StampedSection(d.Source(), Section{Heading: "Words", Tables: section.Tables[:1]}).Heading)
	section.Heading = ""
	assert.Equal(t, "Data through 20 April 2025", StampedSection(d.Source(), section).Tables[1].Title)
	assert.Empty(t, StampedSection(d.Source(), Section{Heading: "", Tables: []Table{{ID: "x", CSVOnly: true}}}).Tables[0].Title)
	assert.Equal(t, section, StampedSection(runningData(t, "", "").Source(), section))
}

// What is too early shows its interval without a point, with its footnote.
func TestTooEarlyCell(t *testing.T) {
	early := cjs.NoEstimate(cjs.TooEarly)
	early.Low, early.High, early.Method = 0.3, 1, "profile"
	c := estimate(early, 100)
	assert.Equal(t, "early", c.Number(1))
	assert.Equal(t, [2]float64{30, 100}, [2]float64{c.Low, c.High})
	p := cjs.Passed{Site: 1, Released: 10, PassedShare: early, StillToPass: early, SoFar: cjs.Estimate{Value: 0.2, Low: 0.1, High: 0.3, Status: cjs.Estimated}}
	river := &history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}}}
	tables := PassedTables(river, []cjs.Passed{p}, 0.95)
	require.Len(t, tables[0].Notes, 1)
	assert.Equal(t, "‖", tables[0].Notes[0].Mark)
	whole := tables[len(tables)-1]
	at := map[string]Cell{}
	for i, c := range whole.Columns {
		at[c.Name] = whole.Rows[0][i]
	}
	assert.Equal(t, 20.0, at["passed_so_far_percent"].Value)
	assert.True(t, math.IsNaN(at["passed_percent"].Value))
	assert.Equal(t, "too early", at["status"].Text)
	assert.Contains(t, at, "still_to_pass_percent")
}
