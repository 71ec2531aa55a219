package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/history/study"
)

// renamed has other names in every text of a folder.
func renamed(t *testing.T, dir string, names ...string) {
	t.Helper()
	for path, text := range tree(t, dir) {
		require.NoError(t, os.WriteFile(path, []byte(strings.NewReplacer(names...).Replace(text)), 0o644))
	}
}

// Files and sheets that the commands name themselves can be called so on every
// system, each otherwise than the rest, whatever sites, cohorts and columns are
// called.
func TestFilesAreNamedForEverySystem(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	path := smallStudy(t, dir)
	renamed(t, dir, "Scar Weir", "CON", "Tidehead", `A:B?`, "Mill Lade", "con", "early", "nul.", "late", "NUL.", "fork_length_mm", "a*b")
	model := []string{"--survival", `reach + cohort + "a*b"`, "--detection", "site"}
	for i, line := range []string{
		"figures STUDY -o OUT MODEL", "report STUDY -o report.html --csv OUT --xlsx BOOK MODEL", "fit STUDY --csv OUT --xlsx BOOK MODEL",
		"check STUDY", "histories STUDY", "travel STUDY", "growth STUDY",
	} {
		out, book := filepath.Join(dir, "out", line[:3]+string(rune('a'+i))), filepath.Join(dir, "out", string(rune('a'+i))+".xlsx")
		if !strings.Contains(line, "OUT") {
			line += " --csv OUT --xlsx BOOK"
		}
		args := strings.Fields(line)
		for k := range args {
			args[k] = strings.NewReplacer("STUDY", path, "OUT", out, "BOOK", book, "report.html", filepath.Join(dir, "out", "report.html")).Replace(args[k])
		}
		if args[len(args)-1] == "MODEL" {
			args = append(args[:len(args)-1], model...)
		}
		code, _, stderr := runHere(t.Context(), t, args...)
		require.Equal(t, exitUsable, code, "%s: %s", line, stderr)
		met := map[string]bool{}
		files, err := os.ReadDir(out)
		require.NoError(t, err)
		for _, f := range files {
			assert.True(t, f.Name()[0] == '.' || atomicfile.Portable(f.Name()), "%s: %s", line, f.Name())
			assert.False(t, met[study.FoldName(f.Name())], "%s: %s stands twice on Windows", line, f.Name())
			met[study.FoldName(f.Name())] = true
		}
		assert.Greater(t, len(met), 2, line)
		if _, err := os.Stat(book); err != nil {
			continue
		}
		b, err := excelize.OpenFile(book)
		require.NoError(t, err)
		for _, sheet := range b.GetSheetList() {
			assert.True(t, atomicfile.Portable(sheet) && !strings.ContainsAny(sheet, "[]'") && len(sheet) <= 31, "%s: sheet %s", line, sheet)
		}
		require.NoError(t, b.Close())
	}
}

// A study with the line ends, the backslashes and the mark of Windows gives the
// same answer as the one that it was.
func TestAStudyOfWindowsGivesTheSame(t *testing.T) {
	answer := func(change func(text string) string) string {
		dir := t.TempDir()
		path := smallStudy(t, dir)
		for name, text := range tree(t, dir) {
			other := change(text)
			if name == path {
				require.NotEqual(t, text, other, "the change is none")
			}
			require.NoError(t, os.WriteFile(name, []byte(other), 0o644))
		}
		code, out, stderr := runHere(t.Context(), t, "fit", path)
		require.Equal(t, exitUsable, code, stderr)
		return out
	}
	want := answer(func(text string) string { return strings.Replace(text, `["arrays"]`, `["arrays/a.csv"]`, 1) })
	require.Regexp(t, `[1-9]\d* passages kept`, want, "there are sightings that could be missed")
	require.NotEqual(t, want, answer(func(text string) string {
		return strings.Replace(text, "Tidehead,2025-04-1", "Scar Weir,2025-04-1", 1) + " "
	}))
	crlf := func(text string) string { return "\ufeff" + strings.ReplaceAll(text, "\n", "\r\n") }
	assert.Equal(t, want, answer(func(text string) string { return crlf(strings.Replace(text, `["arrays"]`, `['Arrays\A.CSV']`, 1)) }))
	assert.Equal(t, want, answer(func(text string) string { return strings.Replace(text, `["arrays"]`, `['ARRAYS\*.CSV']`, 1) }))
	assert.Contains(t, want, "passed Scar Weir")

	dir := t.TempDir()
	path := smallStudy(t, dir)
	renamed(t, dir, `"fish.csv"`, `'C:\data\fish.csv'`)
	code, _, stderr := runHere(t.Context(), t, "fit", path)
	assert.Equal(t, exitRefused, code)
	assert.Contains(t, stderr, `study.toml:3: "C:\\data\\fish.csv" is a path on a drive of Windows`)
}

// A plan keeps its meaning with the line ends and the mark of Windows.
func TestAPlanOfWindowsGivesTheSame(t *testing.T) {
	dir := t.TempDir()
	plan := filepath.Join(dir, "plan.toml")
	code, _, stderr := runHere(t.Context(), t, "plan", smallStudy(t, dir), "--save", plan)
	require.Equal(t, exitUsable, code, stderr)
	code, want, stderr := runHere(t.Context(), t, "plan", plan)
	require.Equal(t, exitUsable, code, stderr)
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(plan, []byte("\ufeff"+strings.ReplaceAll(string(text), "\n", "\r\n")), 0o644))
	code, got, stderr := runHere(t.Context(), t, "plan", plan)
	require.Equal(t, exitUsable, code, stderr)
	assert.Equal(t, want, got)
}

// The shells of Windows hand patterns on as they are typed.
func TestPatternsOnTheLine(t *testing.T) {
	dir := t.TempDir()
	smallStudy(t, dir)
	study := filepath.Join(dir, "of", "study.toml")
	code, _, stderr := runHere(t.Context(), t, "new", filepath.Join(dir, "*.csv"), filepath.Join(dir, "arrays", "*.csv"), "-o", study)
	require.Equal(t, exitUsable, code, stderr)
	text, err := os.ReadFile(study)
	require.NoError(t, err)
	assert.Contains(t, string(text), filepath.ToSlash(dir)+"/fish.csv", "a file elsewhere, named by its whole path, keeps it")
	code, out, stderr := runHere(t.Context(), t, "fit", study)
	require.Equal(t, exitUsable, code, stderr)
	assert.Contains(t, out, "passed Scar Weir")
	code, _, stderr = runHere(t.Context(), t, "new", filepath.Join(dir, "*.none"))
	assert.Equal(t, exitCall, code)
	assert.Contains(t, stderr, "there is no file or folder")
}

// A study that stands elsewhere than its tables names them from where it stands.
func TestNewBesideTheTables(t *testing.T) {
	t.Chdir(t.TempDir())
	smallStudy(t, "tables")
	for _, out := range []string{"studies/study.toml", "tables/own.toml"} {
		code, _, stderr := runHere(t.Context(), t, "new", "tables/fish.csv", "tables/arrays", "-o", out)
		require.Equal(t, exitUsable, code, stderr)
		code, _, stderr = runHere(t.Context(), t, "check", out)
		require.Equal(t, exitUsable, code, stderr)
	}
	text, err := os.ReadFile("studies/study.toml")
	require.NoError(t, err)
	assert.Contains(t, string(text), `file = "../tables/fish.csv"`)
}
