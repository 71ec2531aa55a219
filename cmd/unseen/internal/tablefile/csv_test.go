package tablefile

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/view"
)

func TestWrite(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	third := 1.0 / 3
	set, err := atomicfile.NewSet(dir, atomicfile.Rule{})
	require.NoError(t, err)
	require.NoError(t, Add(CSV{Set: set}, view.Page{Sections: []view.Section{{Tables: []view.Table{
		{ID: "passed",
			Columns: []view.Column{
				{Name: "site", Title: "site"},
				{Name: "released", Title: "released", Kind: view.Count},
				{Name: "passed_percent", Title: "passed %", Kind: view.Range, Digits: 1},
				{Title: "shown only"},
				{Name: "status"},
			},
			Rows: [][]view.Cell{
				{view.T(`Scar, "Weir"`), view.I(1200000), view.R(third, 0.5, 1e-20), view.T("x"), view.T("held").Marked("*")},
				{view.T("Tidehead"), view.I(0), view.None(), view.T("x"), view.T("")},
			}},
		{ID: "hidden", CSVOnly: true, Columns: []view.Column{{Name: "a"}}},
		{Columns: []view.Column{{Name: "a"}}},
	}}}}))
	require.NoError(t, set.Commit())
	b, err := os.ReadFile(filepath.Join(dir, "passed.csv"))
	require.NoError(t, err)
	assert.Equal(t, "site,released,passed_percent,passed_percent_low,passed_percent_high,status\n"+
		`"Scar, ""Weir""",1200000,0.3333333333333333,0.5,1e-20,held`+"\nTidehead,0,,,,\n", string(b))
	names, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(t, err)
	assert.Len(t, names, 2)
}
