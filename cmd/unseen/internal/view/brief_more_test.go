package view

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// How many records more there are is written as all large counts are.
func TestShortenedCountsLikeAllTables(t *testing.T) {
	short := shortened(Table{Rows: make([][]Cell, 1800)}, 8)
	assert.Equal(t, "and 1,792 more: --csv writes them all", short[0].Notes[0].Text)
}

// A column that says nothing of the records shown is not shown; the CSV file has it.
func TestShortenedHidesEmptyColumns(t *testing.T) {
	whole := Table{Columns: []Column{{Name: "fish", Title: "fish"}, {Name: "noticed", Title: "noticed"}, {Name: "n", Title: "n", Kind: Count}}}
	for i := range 9 {
		noticed := ""
		if i == 8 {
			noticed = "short"
		}
		whole.Rows = append(whole.Rows, []Cell{T("a"), T(noticed), None()})
	}
	short := shortened(whole, 8)
	assert.Equal(t, []string{"fish", "", "n"}, []string{short[0].Columns[0].Title, short[0].Columns[1].Title, short[0].Columns[2].Title})
	assert.Equal(t, "noticed", short[1].Columns[1].Title)
	whole.Rows[7][1] = T("short")
	assert.Equal(t, "noticed", shortened(whole, 8)[0].Columns[1].Title)
}
