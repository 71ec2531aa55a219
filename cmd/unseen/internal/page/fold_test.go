package page

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/view"
)

// TestAnswerFirst: estimates stand before what they are made of; keys stay in
// front, and no column is lost.
func TestAnswerFirst(t *testing.T) {
	in := view.Table{Columns: []view.Column{{Title: "cohort", Key: true}, {Title: "site", Key: true}, {Title: "released", Kind: view.Count},
		{Title: "passed", Kind: view.Range}, {Title: "seen", Kind: view.Count}, {Title: "fish", Kind: view.Range}},
		Rows: [][]view.Cell{{view.T("a"), view.T("b"), view.I(1), view.R(2, 1, 3), view.I(4), view.R(5, 4, 6)}}}
	out := answerFirst(in)
	var titles []string
	for _, c := range out.Columns {
		titles = append(titles, c.Title)
	}
	assert.Equal(t, []string{"cohort", "site", "passed", "fish", "released", "seen"}, titles)
	assert.Equal(t, []view.Cell{view.T("a"), view.T("b"), view.R(2, 1, 3), view.R(5, 4, 6), view.I(1), view.I(4)}, out.Rows[0])
	assert.Equal(t, "released", in.Columns[2].Title, "the table itself is as it was")
}

// TestLongTablesFold: a table of many rows has a summary with the lowest, the
// middle and the highest of each place; what has no value is not the lowest.
func TestLongTablesFold(t *testing.T) {
	in := view.Table{Columns: []view.Column{{Title: "cohort", Key: true}, {Title: "site", Key: true}, {Title: "n", Kind: view.Count}, {Title: "passed %", Kind: view.Range, Digits: 1}}}
	for c := range 21 {
		for k, site := range []string{"A", "B"} {
			cohort := fmt.Sprintf("week %d", c+1)
			if k == 1 {
				cohort = "" // the name stands on its first line alone
			}
			v := float64((c*8+5)%21) + float64(100*k)
			cell := view.R(v, v-1, v+1)
			if c == 3 {
				cell = view.None()
			}
			in.Rows = append(in.Rows, []view.Cell{view.T(cohort), view.T(site), view.I(c), cell})
		}
	}
	s, ok := summary(in)
	require.True(t, ok)
	require.Len(t, s.Rows, 2)
	// The values of A are 0 to 20 but for 8, which week 4 would have: eight below
	// it and twelve above, the eleventh of twenty is 11. 8c + 5 is 0, 11 and 20
	// modulo 21 at c = 2, 6 and 15.
	assert.Equal(t, "week 3", s.Rows[0][2].Text)
	assert.Equal(t, view.R(0, -1, 1), s.Rows[0][1])
	assert.Equal(t, 11.0, s.Rows[0][3].Value)
	assert.Equal(t, view.R(20, 19, 21), s.Rows[0][4])
	assert.Equal(t, "week 16", s.Rows[0][5].Text)
	assert.Equal(t, 120.0, s.Rows[1][4].Value)

	g := newGroup(in, "Passed", paperWidth)
	assert.Equal(t, 42, g.Rows)
	assert.Len(t, g.Tables[0].Rows, 42, "the whole is there too")
	in.Rows = in.Rows[:foldFrom-1]
	assert.Zero(t, newGroup(in, "Passed", paperWidth).Rows, "a table of forty rows is shown as it is")
	in.Columns[1].Key = false
	_, ok = summary(in)
	assert.False(t, ok, "without places there is no summary")
	assert.True(t, math.IsNaN(view.None().Value))
}

// TestWarningsOfAKindFold: of many alike the first is shown and the others are
// a click away; few stand as they are.
func TestWarningsOfAKindFold(t *testing.T) {
	var b Block
	for i := range 5 {
		b.Warnings = append(b.Warnings, view.Warning{ID: "travel-law-does-not-fit", Message: fmt.Sprintf("stretch %d", i)})
	}
	for i := range mostAlike {
		b.Warnings = append(b.Warnings, view.Warning{ID: "few-fish", Message: fmt.Sprintf("cohort %d", i)})
	}
	k := b.Kinds()
	require.Len(t, k, 2)
	assert.Len(t, k[0].First, 1)
	assert.Len(t, k[0].More, 4)
	assert.Len(t, k[1].First, mostAlike)
	assert.Empty(t, k[1].More)
	html, err := Fragment(b)
	require.NoError(t, err)
	for _, w := range b.Warnings {
		assert.Equal(t, 1, strings.Count(string(html), w.Message), "every warning stands in the page, once")
	}
}

// A name of many letters without a place to break takes the room of two columns;
// that of a file may break at its marks.
func TestNamesOfRowsBreakAtTheirMarks(t *testing.T) {
	of := func(name string) string {
		in := view.Table{Columns: []view.Column{{Title: "file", Key: true}, {Title: "line", Key: true}, {Title: "tag"}},
			Rows: [][]view.Cell{{view.T(name), view.T("6"), view.T("999")}}}
		page, err := Fragment(Block{Section: view.Section{Tables: []view.Table{in}}})
		require.NoError(t, err)
		return string(page)
	}
	assert.Contains(t, of("week 1"), `class="t k1">week 1</th>`)
	assert.Contains(t, of("arrays/lower-river.csv.gz"), `class="t k">arrays/lower-river<wbr>.csv<wbr>.gz</th>`)
	assert.Contains(t, of("lower_river_2025.csv<"), `class="t k">lower_<wbr>river_<wbr>2025<wbr>.csv&lt;</th>`)
}

// What is printed is cut for paper; what is shown inside another page is not.
func TestFragmentsAreNotCutForPaper(t *testing.T) {
	in := view.Table{Title: "Wide", Columns: []view.Column{{Title: "site", Key: true}}, Rows: [][]view.Cell{{view.T("Tidehead")}}}
	for range 20 {
		in.Columns, in.Rows[0] = append(in.Columns, view.Column{Title: "a long heading"}), append(in.Rows[0], view.T("a text of some length"))
	}
	assert.Greater(t, len(newGroup(in, "", paperWidth).Tables), 3)
	page, err := Fragment(Block{Section: view.Section{Tables: []view.Table{in}}})
	require.NoError(t, err)
	assert.NotContains(t, string(page), "continued")
}
