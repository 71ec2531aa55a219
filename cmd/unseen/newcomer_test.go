package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A newcomer's small stumbles: what a screen says where there is little to say.
func TestSmallStumbles(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	shown := func(args ...string) string {
		t.Helper()
		code, stdout, stderr := runHere(t.Context(), t, args...)
		require.Equal(t, exitUsable, code, "%v: %s", args, stderr)
		return stdout
	}
	refused := func(code int, args ...string) string {
		t.Helper()
		got, stdout, stderr := runHere(t.Context(), t, args...)
		assert.Equal(t, code, got, "%v: %s", args, stderr)
		assert.Empty(t, stdout, args)
		return stderr
	}
	// A flag without a value is not one that was not given.
	for _, args := range [][]string{{"fit", study, "--survival", ""}, {"fit", study, "--survival="}, {"fit", study, "--as-of", " "}, {"compare", study, "--survival", "reach", "--survival", ""}} {
		assert.Contains(t, refused(exitCall, args...), "needs a value, and that is empty")
	}
	// One replicate says nothing of fit, and gives no interval.
	out := shown("fit", study, "--interval", "bootstrap", "--replicates", "1")
	assert.Contains(t, out, "no verdict follows; take 20 or more")
	assert.NotContains(t, out, "lack of fit")
	assert.Contains(t, out, "Too few replicates for an interval of 95 %")
	assert.NotContains(t, shown("fit", study, "--interval", "bootstrap", "--replicates", "60"), "oo few replicates")
	// A replay does not speak of as_of alone, which nobody gave.
	assert.Contains(t, refused(exitRefused, "season", dipper), "or is replayed, needs the times")
	// A key of the whole study in a section is sent to the top.
	text, err := os.ReadFile(study)
	require.NoError(t, err)
	wrong := filepath.Join(dir, "wrong.toml")
	require.NoError(t, os.WriteFile(wrong, []byte(strings.Replace(string(text), "[fish]\n", "[fish]\ntag_form = \"text\"\n", 1)), 0o644))
	assert.Contains(t, refused(exitRefused, "check", wrong), `unknown key "tag_form" in [fish]; it stands at the top of the file`)
	// Lengths have no rounding of their own.
	require.NoError(t, os.WriteFile(study, []byte(strings.NewReplacer("km = 30", "km = 36.6", "km = 14", "km = 14.2").Replace(string(text))), 0o644))
	tables := filepath.Join(dir, "tables")
	shown("fit", study, "--csv", tables)
	survival, err := os.ReadFile(filepath.Join(tables, "survival.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(survival), ",22.4,")
	// A total of nothing is none.
	few := filepath.Join(dir, "few.toml")
	require.NoError(t, os.WriteFile(few, []byte("[histories]\nfile = \"few.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "few.csv"), []byte("A,B,count\n1,1,5\n1,0,5\n"), 0o644))
	code, out, _ := runHere(t.Context(), t, "assess", few)
	assert.Equal(t, exitUsable, code)
	assert.Regexp(t, `(?m)^total +0 +– +– +–$`, out)
	// No line of a new plan's answer is wider than a page.
	plan := filepath.Join(dir, strings.Repeat("x", 40)+".toml")
	out = shown("plan", "--new", plan)
	assert.Regexp(t, regexp.MustCompile(`(?m)^unseen plan `), out)
	for _, line := range strings.Split(out, "\n") {
		assert.LessOrEqual(t, len([]rune(line)), max(100, len(plan)+len("unseen plan ")), line)
	}
}

// In a folder with a study its name is said; a page that was written says where it
// is; what to compare has an example.
func TestFirstSteps(t *testing.T) {
	t.Chdir(t.TempDir())
	smallStudy(t, ".")
	code, _, stderr := runHere(t.Context(), t, "check")
	assert.Equal(t, exitCall, code)
	assert.Contains(t, stderr, "that of this folder: unseen check study.toml")
	code, _, stderr = runHere(t.Context(), t, "compare", "study.toml")
	assert.Equal(t, exitCall, code)
	assert.Contains(t, stderr, `such as --survival reach --survival "reach + cohort"`)
	code, stdout, stderr := runHere(t.Context(), t, "report", "study.toml", "-o", "r.html")
	assert.Equal(t, exitUsable, code, stderr)
	assert.Equal(t, "Report written: r.html. Open it in a browser.\n", stdout)
	for _, args := range [][]string{{"fit", "fish.csv"}, {"check", filepath.Join("arrays", "a.csv")}} {
		code, _, stderr = runHere(t.Context(), t, args...)
		assert.Equal(t, exitCall, code)
		assert.Contains(t, stderr, "is a table and no study file; give study.toml")
	}
	require.NoError(t, os.WriteFile("old.json", []byte("{}"), 0o644))
	code, _, stderr = runHere(t.Context(), t, "changes", ".", "old.json")
	assert.Equal(t, exitCall, code)
	assert.Contains(t, stderr, "the earlier result comes first: unseen changes old.json .")
	code, _, stderr = runHere(t.Context(), t, "fit", "study.toml", "--survival", "reach + length")
	assert.Equal(t, exitCall, code)
	assert.Contains(t, stderr, "did you mean fork_length_mm?")
	for _, out := range []string{"-", os.DevNull} {
		code, stdout, stderr = runHere(t.Context(), t, "report", "study.toml", "-o", out)
		assert.Equal(t, exitUsable, code, stderr)
		assert.NotContains(t, stdout, "Report written", out)
	}
}

// When the season is over an estimate that an idle row leaves without a value is not
// called early.
func TestIdleIsNotEarly(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	text, err := os.ReadFile(study)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(study, []byte(strings.Replace(string(text), "name = \"Tidehead\"", "name = \"Tidehead\"\nworking = [[2025-04-12, 2025-04-12T06:00:00]]", 1)), 0o644))
	code, out, stderr := runHere(t.Context(), t, "fit", study, "--survival", "reach", "--detection", "site", "--full")
	require.NotEqual(t, exitCall, code, stderr)
	assert.Contains(t, out, "idle‖", "%s", out)
	assert.NotContains(t, out, "early‖")
	assert.NotContains(t, out, "season incomplete")
	// While it runs, and on the days of a replay, it is early.
	code, out, _ = runHere(t.Context(), t, "season", filepath.Join("internal", "demo", "files", "study.toml"), "--on", "2025-04-09")
	require.Equal(t, exitUsable, code)
	assert.Contains(t, out, "early‖")
}
