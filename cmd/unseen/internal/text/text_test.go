package text

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/view"
)

func write(t *testing.T, p view.Page) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, Write(&b, p))
	return b.String()
}

func TestTableReadsLikeAStatement(t *testing.T) {
	nan := math.NaN()
	got := write(t, view.Page{Title: "Hollin Water", Stamp: "Sightings through 20 May 2025",
		Sections: []view.Section{{
			Heading: "Passed",
			Tables: []view.Table{{
				Columns: []view.Column{
					{Title: "site", Key: true},
					{Title: "fish released", Kind: view.Count},
					{Title: "detection %", Kind: view.Number, Digits: 1},
					{Title: "passed % (95 %)", Kind: view.Range, Digits: 1},
					{Name: "method", Title: ""},
				},
				Rows: [][]view.Cell{
					{view.T("Scar Weir"), view.I(1800), view.N(70.25), view.R(43.1, 40.2, 46), view.T("logit")},
					{view.T("Tidehead"), view.I(7), view.N(nan).Marked("*"), view.R(9.8, 0.04, 100).Marked("†"), view.T("")},
					{view.T("Alder Ford"), view.I(0), view.N(5), view.None(), view.T("")},
				},
				Notes: []view.Note{{Mark: "*", Text: "cannot be told apart"}},
			}},
			Warnings: []view.Warning{{ID: "boundary-estimate", About: "Tidehead", Message: "At 1."}},
			Notes:    []string{"small print"},
		}}})
	assert.Equal(t, `Hollin Water
Sightings through 20 May 2025

Passed
──────
                fish
site        released  detection %     passed % (95 %)
──────────  ────────  ───────────  ──────────────────
Scar Weir      1,800        70.2   43.1  (40.2–46.0)
Tidehead           7           –*   9.8† (<0.1–100.0)
Alder Ford         0         5.0      –
  * cannot be told apart

! At 1. [boundary-estimate]

· small print
`, got)
}

func TestNoLineIsTooWide(t *testing.T) {
	cols := []view.Column{{Title: "fish", Key: true}}
	row := []view.Cell{view.T("a fish")}
	for range 30 {
		cols = append(cols, view.Column{Title: "Alder Ford upper", Kind: view.Count})
		row = append(row, view.I(1))
	}
	got := write(t, view.Page{Sections: []view.Section{{
		Paragraphs: []string{strings.Repeat("43.1 % of the fish ", 40)},
		Tables:     []view.Table{{Columns: cols, Rows: [][]view.Cell{row}}},
		Warnings:   []view.Warning{{ID: "x", Message: strings.Repeat("word ", 80)}},
	}}})
	for _, line := range strings.Split(got, "\n") {
		assert.LessOrEqual(t, width(line), piped, line)
		assert.False(t, strings.HasPrefix(line, "%"), "a number is cut from its unit: %s", line)
	}
	assert.Equal(t, 5, strings.Count(got, "a fish"), "the key is repeated in each panel")
	assert.Equal(t, 30, strings.Count(got, "upper"))
}

// A table that is too wide becomes several, each beginning with what names the
// row: beside each other, under each other, each said once, where that takes most of the width.
func TestWideTablesFold(t *testing.T) {
	table := func(cohort, again, site string, columns int) view.Page {
		tab := view.Table{Columns: []view.Column{{Title: "cohort", Key: true}, {Title: "site", Key: true}}}
		row := []view.Cell{view.T(cohort), view.T(site)}
		for i := range columns {
			tab.Columns = append(tab.Columns, view.Column{Title: "passed % (95 %)", Kind: view.Range, Digits: 1})
			row = append(row, view.R(43.1, 40.2, 46+float64(i)))
		}
		tab.Rows = [][]view.Cell{row, append([]view.Cell{view.T(again), view.T("Tidehead")}, row[2:]...)}
		return view.Page{Sections: []view.Section{{Tables: []view.Table{tab}}}}
	}
	assert.Equal(t, `cohort  site        passed % (95 %)
──────  ─────────  ────────────────
week 1  Scar Weir  43.1 (40.2–46.0)
        Tidehead   43.1 (40.2–46.0)

cohort  site        passed % (95 %)
──────  ─────────  ────────────────
week 1  Scar Weir  43.1 (40.2–47.0)
        Tidehead   43.1 (40.2–47.0)
`, page(table("week 1", "", "Scar Weir", 2), 50))
	assert.Equal(t, `cohort
  site                         passed % (95 %)
────────────────────────────  ────────────────
released in week 1
  The Array at the Old Stone
  Weir                        43.1 (40.2–46.0)
  Tidehead                    43.1 (40.2–46.0)
`, page(table("released in week 1", "released in week 1", "The Array at the Old Stone Weir", 1), 53))
	assert.Equal(t, `cohort
  site
    passed % (95 %)
────────────────────────────────────
week 1
  The-Array-at-the-Old-Stone-Weir-12
    43.1 (40.2–46.0)
  Tidehead
    43.1 (40.2–46.0)
`, page(table("week 1", "", "The-Array-at-the-Old-Stone-Weir-12", 1), 40))
}

// A word longer than the line stands on a line by itself, whole.
func TestNoWordIsBroken(t *testing.T) {
	long := strings.Repeat("arrays/", 12) + "a.csv"
	got := page(view.Page{Title: "A title " + long + " as long as a path", Sections: []view.Section{{
		Heading: "Heading " + long, Paragraphs: []string{"1. See " + long + ", or nothing."},
		Tables: []view.Table{{Columns: []view.Column{{Title: "records", Key: true}, {Title: "first"}}, Rows: [][]view.Cell{{view.T("set aside"), view.T(long)}}}},
	}}}, 60)
	for _, line := range strings.Split(got, "\n") {
		if width(line) > 60 {
			assert.Len(t, strings.Fields(line), 1, line)
		}
	}
	assert.Equal(t, 4, strings.Count(got, long))
	assert.Contains(t, got, "\n   or nothing.", "an entry of a list hangs")
}

func TestLinesHang(t *testing.T) {
	assert.Equal(t, "OPTIONS:\n   --level LEVEL  confidence LEVEL of the\n                  intervals (default: 0.95)",
		Lines("OPTIONS:\n   --level LEVEL  confidence LEVEL of the intervals (default: 0.95)", 48, ""))
	assert.Equal(t, "   a name that is much wider than half\n   of the line  what it means", Lines("   a name that is much wider than half of the line  what it means", 38, ""))
	assert.Equal(t, "unseen: a.toml:1:\n  the study has no\n  site\na.toml:4: two", Lines("unseen: a.toml:1: the study has no site\na.toml:4: two", 22, "  "))
	assert.Equal(t, "a b c d\n\n  list\n  more\ne", Reflow("a b\nc d\n\n  list\n  more\ne"))
}

func TestWideLettersAlign(t *testing.T) {
	got := write(t, view.Page{Sections: []view.Section{{Tables: []view.Table{{
		Columns: []view.Column{{Title: "site"}, {Title: "n", Kind: view.Count}},
		Rows:    [][]view.Cell{{view.T("Ånga e\u0301"), view.I(1)}, {view.T("川"), view.I(22)}},
	}}}}})
	assert.Equal(t, "site     n\n──────  ──\nÅnga e\u0301   1\n川      22\n", got)
}

func TestControlCharactersAreShown(t *testing.T) {
	got := write(t, view.Page{Title: "A\x1b[2JB", Sections: []view.Section{{Paragraphs: []string{"a\rb"}, Tables: []view.Table{{
		Columns: []view.Column{{Title: "tag\u202e"}, {Title: "n", Kind: view.Count}},
		Rows:    [][]view.Cell{{view.T("\u2066=1"), view.I(1)}, {view.T("b"), view.I(2)}},
	}}}}})
	assert.Equal(t, `A\u001b[2JB

a\u000db

tag\u202e  n
─────────  ─
\u2066=1   1
b          2
`, got)
}
