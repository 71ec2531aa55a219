package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const nasty = "Weir\x1b[2J\u202e"

// Names that strangers chose reach no screen, page, figure or caption with
// characters that do something there, and run as nothing in a spreadsheet.
func TestTextsOfStrangers(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := filepath.Join(t.TempDir(), "a\x1b[31mb")
	study := smallStudy(t, dir)
	edit := func(name, old, now string) {
		path := filepath.Join(dir, name)
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Contains(t, string(text), old)
		require.NoError(t, os.WriteFile(path, []byte(strings.ReplaceAll(string(text), old, now)), 0o644))
	}
	edit("study.toml", `"Hollin Water"`, `"Hollin \u001b[2J\u202eWater"`)
	edit("study.toml", `"Scar Weir"`, `"Weir\u001b[2J\u202e"`)
	edit("arrays/a.csv", "Scar Weir", nasty)
	edit("fish.csv", "early", "=early+1")
	edit("study.toml", `"Tidehead"`, `"=Tide+1"`)
	edit("arrays/a.csv", "Tidehead", "=Tide+1")
	text, err := os.ReadFile(filepath.Join(dir, "arrays/a.csv"))
	require.NoError(t, err)
	for _, tag := range []string{"=HYPERLINK(1)", "+1+1", "-1-1", "@x\u202e", "\x1b[31mred"} {
		text = append(text, tag+","+nasty+",2025-04-05 04:00\n"...)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "arrays/a.csv"), text, 0o644))

	harmless := func(what, s string) {
		for _, c := range []string{"\x1b", "\u202e", "\ufffd"} {
			assert.NotContains(t, s, c, what)
		}
	}
	out := filepath.Join(t.TempDir(), "out")
	for _, args := range [][]string{
		{"fit", study}, {"check", study, "--csv", filepath.Join(out, "checked")}, {"histories", study, "--csv", out}, {"report", study}, {"fit", study, "--json"},
		{"figures", study, "-o", filepath.Join(out, "figures"), "--format", "svg"}, {"simulate", study, "--out", filepath.Join(out, "again")},
		{"fit", study, "--interval", "bootstrap", "--replicates", "3", "--save", filepath.Join(out, "saved.json")},
		{"fit", study, "--model", nasty}, {"fit", filepath.Join(dir, "none.toml")}, {"plan", study, "--want", "passed at " + nasty + "x ± 5"},
	} {
		_, stdout, stderr := runHere(t.Context(), t, args...)
		harmless(strings.Join(args, " "), stdout+stderr)
	}
	_, stdout, _ := runHere(t.Context(), t, "fit", study)
	assert.Contains(t, stdout, `Hollin \u001b[2J\u202eWater`)
	_, stdout, _ = runHere(t.Context(), t, "fit", study, "--json")
	var doc struct {
		Study struct{ Title string }
	}
	require.NoError(t, json.Unmarshal([]byte(stdout), &doc))

	files := tree(t, out)
	assert.Contains(t, files[filepath.Join(out, "saved.json")], `\u202e`)
	assert.Contains(t, files[filepath.Join(out, "again", "truth.json")], `\u202e`)
	for name, text := range files {
		switch filepath.Ext(name) {
		case ".svg", ".txt", ".json":
			harmless(name, text)
		case ".csv":
			for _, line := range strings.Split(text, "\n") {
				for _, cell := range strings.Split(line, ",") {
					if len(cell) > 1 && strings.ContainsRune("=+@", rune(cell[0])) {
						t.Errorf("%s: %q runs as a formula", name, cell)
					}
				}
			}
		}
	}
	aside := files[filepath.Join(out, "checked", "set_aside.csv")]
	for _, tag := range []string{"'=HYPERLINK(1)", "'+1+1", "'-1-1", "'@x"} {
		assert.Contains(t, aside, ","+tag, "set_aside.csv")
	}
	assert.Contains(t, files[filepath.Join(out, "histories.csv")], "'=early+1")
	assert.Contains(t, files[filepath.Join(out, "again", "sightings.csv")], ",'=Tide+1,")

	// What was made harmless is read back as it was.
	_, direct, _ := runHere(t.Context(), t, "histories", study, "--counts", "--json")
	code, back, stderr := runHere(t.Context(), t, "histories", filepath.Join(out, "histories.toml"), "--counts", "--json")
	require.Equal(t, exitUsable, code, stderr)
	counts := func(s string) any {
		var v map[string]any
		require.NoError(t, json.Unmarshal([]byte(s), &v))
		require.NotNil(t, v["counts"], s)
		return v["counts"]
	}
	assert.Equal(t, counts(direct), counts(back))
	assert.Contains(t, back, "=early+1")
	assert.NotContains(t, back, "'=early+1")
}
