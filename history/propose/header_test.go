package propose_test

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// lastEmpty are fish of which few were removed and have remarks, in a table of
// unseen's own names: the last two columns are empty in nearly all lines.
func lastEmpty(i int, f smolt) string {
	removed, remarks := "", ""
	switch {
	case i%30 == 7:
		removed = "Tidehead"
	case i%30 == 0:
		remarks = "fin clip"
	}
	return fmt.Sprintf("%s;%s;%s;%s", f.tag, f.released.Format(plainTime), removed, remarks)
}

// The header is found where the last columns are empty in nearly all lines, or
// in all, in text and in a workbook.
func TestHeaderOverEmptyColumns(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, delimiter := range []string{";", ",", "\t"} {
		for name, line := range map[string]func(int, smolt) string{
			"few": lastEmpty,
			"none": func(_ int, f smolt) string {
				return fmt.Sprintf("%s;%s;;", f.tag, f.released.Format(plainTime))
			},
		} {
			t.Run(name+delimiter, func(t *testing.T) {
				c := newCrew(t, 60, hollin...)
				c.plainFish("fish.csv", strings.ReplaceAll("tag;released;removed;remarks", ";", delimiter), c.fish, func(i int, f smolt) string {
					return strings.ReplaceAll(line(i, f), ";", delimiter)
				})
				c.plainReads([]string{"Tag;Time"}, tagTime)
				p, _, err := c.read()
				require.NoError(t, err)
				assert.NotContains(t, p.Study, "header_line", p.Study)
				assert.Contains(t, p.Study, `"remarks"`)
			})
		}
	}
	c := newCrew(t, 61, hollin...)
	book := excelize.NewFile()
	require.NoError(t, book.SetSheetRow("Sheet1", "A1", &[]string{"Tag", "Released", "Removed", "Remarks", "Entered"}))
	for i, f := range c.fish {
		require.NoError(t, book.SetSheetRow("Sheet1", fmt.Sprint("A", i+2), &[]any{f.tag, f.released}))
	}
	require.NoError(t, book.SaveAs(filepath.Join(c.dir, "fish.xlsx")))
	c.plainReads([]string{"Tag;Time"}, tagTime)
	p, _, err := c.read()
	require.NoError(t, err)
	assert.NotContains(t, p.Study, "header_line", p.Study)
	assert.Contains(t, p.Study, `"Remarks"`)
}

// Columns that go by their numbers are asked about where a line stands above the
// records, and not where the first line is one.
func TestColumnsByNumberAreAsked(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	asked := func(header string) (study, doubts string) {
		c := newCrew(t, 62, hollin...)
		c.plainFish("fish.csv", header, c.fish, func(i int, f smolt) string { return lastEmpty(i, f) })
		c.plainReads(nil, tagTime)
		p, _, err := c.read()
		require.NoError(t, err)
		return p.Study, strings.Join(p.Doubts, "\n")
	}
	study, doubts := asked("Tag;Released;Remarks;Remarks")
	assert.Contains(t, study, "header_line = 0   # ? no line names the columns\n")
	assert.Contains(t, doubts, `fish.csv: the name "Remarks" stands over two columns, so they go by their numbers; give each a name of its own`)
	assert.Equal(t, 1, strings.Count(doubts, "by their numbers"), "the arrays begin with a record")
	_, doubts = asked("fish of the spring")
	assert.Contains(t, doubts, "fish.csv: the line above the records is not taken to name the columns, so they go by their numbers; if one does")
	_, doubts = asked("Tag;Released;Caught;Remarks")
	assert.NotContains(t, doubts, "by their numbers")
}

// Measures called otherwise than growth calls them are named, and a column of the
// places where a few fish were taken out is asked about.
func TestMeasuresAndRemovedAreNamed(t *testing.T) {
	c := newCrew(t, 64, hollin...)
	line := func(i int, f smolt) string {
		at := ""
		if i%10 == 3 {
			at = "Scar Weir"
		}
		return fmt.Sprintf("%s;%s;%.1f;%.1f;%s", f.tag, f.released.Format(plainTime), f.length, f.weight, at)
	}
	c.plainFish("fish.csv", "Tag;Released;Length (mm);Weight (g);Taken at", c.fish, line)
	c.plainReads([]string{"Tag;Time"}, tagTime)
	p, _, err := c.read()
	require.NoError(t, err)
	assert.Contains(t, p.Study, `# for growth name them so in columns too: length_mm = "Length (mm)", weight_g = "Weight (g)"`)
	assert.Contains(t, strings.Join(p.Doubts, "\n"), `fish.csv: "Taken at" names places of 9 fish; if they were taken out there, say removed = "Taken at" in columns`)
	// A heading that says so is written, where the places are called as the sites.
	for heading, want := range map[string]bool{"Removed": true, "Taken out at": true, "Entnommen": true, "Caught at": false} {
		c.plainFish("fish.csv", "Tag;Released;Length (mm);Weight (g);"+heading, c.fish, line)
		p, _ = guessIn(t, c.dir, c.dir)
		assert.Equal(t, want, strings.Contains(p.Study, fmt.Sprintf("released = \"Released\", removed = %q }", heading)), p.Study)
		assert.Equal(t, want, strings.Contains(strings.Join(p.Doubts, "\n"), fmt.Sprintf("%q is taken for the sites where 9 fish were taken out", heading)))
	}
	c.plainFish("fish.csv", "tag;released;length_mm;weight_g;removed", c.fish, func(i int, f smolt) string {
		return strings.TrimSuffix(line(i, f), "Scar Weir")
	})
	p, _, err = c.read()
	require.NoError(t, err)
	assert.NotContains(t, p.Study, "for growth name")
	assert.NotContains(t, strings.Join(p.Doubts, "\n"), "taken out")
}
