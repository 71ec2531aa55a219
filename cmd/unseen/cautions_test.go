package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/view"
)

// TestCautionsAreExplained: docs/cautions.md has each caution and each
// assumption of the screens, word for word.
func TestCautionsAreExplained(t *testing.T) {
	data, err := os.ReadFile("../../docs/cautions.md")
	require.NoError(t, err)
	page := string(data)
	for _, c := range view.Cautions {
		assert.Contains(t, page, "\n\n**"+c+"**")
	}
	list := view.Assumptions().Sections[0].Tables[0]
	require.Greater(t, len(list.Rows), 5)
	for _, row := range list.Rows {
		assert.Contains(t, page, "\n- **"+row[0].Text+"** "+row[1].Text+" *")
	}
}

// Where records of single fish are shown or written the caution stands beside them,
// and nowhere else.
func TestTheCautionOnSingleFish(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	study := smallStudy(t, dir)
	text, err := os.ReadFile(study)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "again.csv"), []byte("tag,date,fork_length_mm\n999041000000001,2025-04-20,190\n"), 0o644))
	grown := filepath.Join(dir, "grown.toml")
	require.NoError(t, os.WriteFile(grown, append(text, "[recaptures]\nfile = \"again.csv\"\n"...), 0o644))
	for line, want := range map[string]bool{
		"histories " + study: true, "histories " + study + " --csv " + filepath.Join(dir, "h"): true,
		"check " + study + " --xlsx " + filepath.Join(dir, "c.xlsx"): true, "growth " + grown: true,
		"fit " + study + " --what-if": true, "figures " + study + " -o " + filepath.Join(dir, "f") + " --format svg": true,
		"report " + study: true, "figures " + study + " -o " + filepath.Join(dir, "g") + " --format svg --only passage": false,
		"histories " + study + " --full": true, "travel " + study + " --csv " + filepath.Join(dir, "t"): false,
		"histories " + study + " --counts": false, "check " + study: false, "growth " + study: true /* fish far from the line are named */, "fit " + study: false,
	} {
		code, stdout, stderr := runHere(t.Context(), t, strings.Fields(line)...)
		require.Equal(t, exitUsable, code, stderr)
		assert.Equal(t, want, strings.Contains(strings.Join(strings.Fields(stdout), " "), view.SingleFish), line)
	}
	captions, err := os.ReadFile(filepath.Join(dir, "f", "captions.txt"))
	require.NoError(t, err)
	assert.Contains(t, string(captions), view.SingleFish)
}
