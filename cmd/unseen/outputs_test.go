package main

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// smallStudy writes a study of 120 fish and three sites into dir, its sightings
// in the folder arrays.
func smallStudy(t *testing.T, dir string) string {
	t.Helper()
	rnd := rand.New(rand.NewPCG(15, 2))
	fish, reads := "tag,released,cohort,fork_length_mm,weight_g\n", "tag,site,time\n"
	for i := range 120 {
		tag := fmt.Sprintf("999%012d", 41_000_000_001+i)
		fish += fmt.Sprintf("%s,2025-04-%02d 20:00,%s,%d,%d\n", tag, 1+i%2, []string{"early", "late"}[i%2], 120+rnd.IntN(40), 20+rnd.IntN(20))
		if rnd.IntN(10) < 8 {
			if rnd.IntN(10) < 7 {
				reads += fmt.Sprintf("%s,Scar Weir,2025-04-%02d 04:00\n", tag, 5+rnd.IntN(5))
			}
			if rnd.IntN(10) < 6 {
				reads += fmt.Sprintf("%s,Tidehead,2025-04-%02d 04:00\n", tag, 12+rnd.IntN(5))
			}
		}
	}
	for name, text := range map[string]string{"fish.csv": fish, "arrays/a.csv": reads, "study.toml": `title = "Hollin Water"
[fish]
file = "fish.csv"
cohort = "cohort"
[sightings]
files = ["arrays"]
[[site]]
name = "Mill Lade"
km = 30
[[site]]
name = "Scar Weir"
km = 14
[[site]]
name = "Tidehead"
km = 0
`} {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	return filepath.Join(dir, "study.toml")
}

// tree is every file under dir, with its bytes.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		b, err := os.ReadFile(path)
		out[path] = string(b)
		return err
	}))
	return out
}

// writers are all commands that write files, with what they write into or as:
// STUDY, OLD, PART and OUT stand for paths, FILE for a file in OUT.
var writers = []string{
	"fit STUDY --csv OUT",
	"histories STUDY --csv OUT",
	"check STUDY --csv OUT",
	"compare STUDY --survival same --survival reach --csv OUT",
	"assess STUDY --csv OUT",
	"travel STUDY --csv OUT",
	"season STUDY --every 7 --csv OUT",
	"growth STUDY --csv OUT",
	"changes OLD STUDY --csv OUT",
	"report STUDY --since OLD -o FILE.html",
	"report STUDY --csv OUT -o /dev/null",
	"fit STUDY --xlsx FILE.xlsx",
	"check STUDY --xlsx FILE.xlsx",
	"figures STUDY --format svg -o OUT",
	"new TABLES -o FILE.toml",
	"demo OUT",
	"plan STUDY --save FILE.toml",
	"plan STUDY --figure FILE.svg",
	"plan --new FILE.toml",
	"plan STUDY --csv OUT",
	"simulate STUDY --out OUT",
	"simulate STUDY --replicates 2 --csv OUT",
	"merge PART --save FILE.jsonl",
	"merge PART --csv OUT",
}

func TestEveryCommandThatWritesIsHere(t *testing.T) {
	app := newApp(nil, nil, nil)
	for _, c := range app.Commands {
		// explain and completion have nothing to write to; what the page of open writes is tested in internal/desk.
		found := len(c.Flags) == 0 && (c.Name == "explain" || c.Name == "completion") || c.Name == "open"
		for _, w := range writers {
			found = found || strings.HasPrefix(w, c.Name+" ")
		}
		assert.True(t, found, c.Name)
	}
}

// For each command that writes: what it made it makes again; a file of the
// user's, and one changed by hand, is refused and keeps its bytes, unless --force
// says so; a file that was read is refused even then. Nothing else appears.
func TestNothingOfTheUsersIsOverwritten(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	study := smallStudy(t, filepath.Join(dir, "study"))
	old, part := filepath.Join(dir, "old.json"), filepath.Join(dir, "part.jsonl")
	code, stdout, stderr := runHere(t.Context(), t, "fit", study, "--json", "--interval", "bootstrap", "--replicates", "4", "--save", part)
	require.Equal(t, exitUsable, code, stderr)
	require.NoError(t, os.WriteFile(old, []byte(stdout), 0o644))
	for i, line := range writers {
		t.Run(strings.ReplaceAll(line, "/", "_"), func(t *testing.T) {
			out := filepath.Join(dir, fmt.Sprint("out", i))
			args := strings.Fields(strings.NewReplacer("STUDY", study, "OLD", old, "PART", part, "TABLES", filepath.Dir(study), "OUT", out, "FILE", filepath.Join(out, "out")).Replace(line))
			input := filepath.Join(filepath.Dir(study), "fish.csv")
			if strings.HasPrefix(line, "merge") {
				input = part
			}
			allowed := func(name string, more ...string) {
				code, _, stderr := runHere(t.Context(), t, append(args, more...)...)
				require.Equal(t, exitUsable, code, "%s: %s", name, stderr)
			}
			refused := func(name, why string, more ...string) {
				before := tree(t, dir)
				code, stdout, stderr := runHere(t.Context(), t, append(args, more...)...)
				assert.Equal(t, exitCall, code, "%s: %s", name, stderr)
				assert.Contains(t, stderr, why, name)
				assert.Empty(t, stdout, "%s: an answer without its files", name)
				assert.Equal(t, before, tree(t, dir), name)
			}
			allowed("at first")
			made := tree(t, out)
			allowed("again")
			assert.Equal(t, made, tree(t, out), "the same bytes")
			var path string
			for name := range made {
				if filepath.Base(name) != ".unseen-outputs.json" && (path == "" || name < path) {
					path = name
				}
			}
			require.NoError(t, os.WriteFile(path, []byte(made[path]+"\n# by hand"), 0o644))
			refused("changed by hand", path)
			allowed("forced", "--force")
			assert.Equal(t, made, tree(t, out))

			require.NoError(t, os.RemoveAll(out))
			require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
			require.NoError(t, os.WriteFile(path, []byte("the user's"), 0o644))
			refused("the user's own", path)
			if strings.HasPrefix(line, "demo") || strings.HasPrefix(line, "plan --new") {
				return // it reads nothing of the user's
			}
			if !strings.HasPrefix(line, "new") { // reads the folder's tables, whatever they are
				require.NoError(t, os.Remove(path))
				require.NoError(t, os.Link(input, path))
				refused("an input", "one of the files that were read")
				refused("an input, forced", "one of the files that were read", "--force")
			}
		})
	}
}

// Files are not laid where the study will read them as sightings.
func TestNoFilesAmongTheSightings(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	study := smallStudy(t, dir)
	arrays := filepath.Join(dir, "arrays")
	link := filepath.Join(dir, "link")
	require.NoError(t, os.Symlink("arrays", link))
	before := tree(t, dir)
	for _, args := range [][]string{
		{"simulate", study, "--out", arrays},
		{"simulate", study, "--out", filepath.Join(arrays, "deep", "er")},
		{"check", study, "--csv", link},
		{"fit", study, "--csv", arrays, "--force"},
		{"new", dir, "-o", filepath.Join(dir, "sites.csv")},
	} {
		code, _, stderr := runHere(t.Context(), t, args...)
		assert.Equal(t, exitCall, code, "%v: %s", args, stderr)
		assert.Contains(t, stderr, "would read this file as such", args)
		assert.Equal(t, before, tree(t, dir), args)
	}
	// What the study does not read is no harm there.
	code, _, stderr := runHere(t.Context(), t, "report", study, "-o", filepath.Join(arrays, "report.html"))
	assert.Equal(t, exitUsable, code, stderr)
}

// The three ways in which a study's own files were replaced once.
func TestTheStudyItselfIsKept(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	old := filepath.Join(dir, "old.json")
	_, stdout, _ := runHere(t.Context(), t, "fit", study, "--json")
	require.NoError(t, os.WriteFile(old, []byte(stdout), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "sites.csv"), []byte("my own\n"), 0o644))
	before := tree(t, dir)
	for _, args := range [][]string{
		{"simulate", study, "--out", dir},
		{"report", study, "-o", filepath.Join(dir, "fish.csv")},
		{"report", study, "-o", filepath.Join(dir, "fish.csv"), "--force"},
		{"report", study, "-o", study, "--force"},
		{"report", study, "--since", old, "-o", old, "--force"},
		{"check", study, "--csv", dir},
	} {
		code, _, stderr := runHere(t.Context(), t, args...)
		assert.Equal(t, exitCall, code, "%v: %s", args, stderr)
		assert.Equal(t, before, tree(t, dir), args)
	}
}

// A folder of tables holds those of one run: what an earlier run wrote and this one
// does not is removed and said, but for what somebody changed, what is read, and what
// is no table.
func TestTablesOfAnEarlierRunAreGone(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	study := smallStudy(t, filepath.Join(dir, "study"))
	out := filepath.Join(dir, "out")
	run := func(args ...string) string {
		t.Helper()
		code, _, stderr := runHere(t.Context(), t, append(args, "--csv", out)...)
		require.Equal(t, exitUsable, code, stderr)
		return stderr
	}
	there := func(name string) bool { return tree(t, out)[filepath.Join(out, name)] != "" }
	assert.NotContains(t, run("fit", study), "earlier run")
	assert.NotContains(t, run("fit", study), "earlier run")
	code, _, stderr := runHere(t.Context(), t, "report", study, "-o", filepath.Join(out, "report.html"))
	require.Equal(t, exitUsable, code, stderr)
	require.NoError(t, os.WriteFile(filepath.Join(out, "survival.csv"), []byte("my own\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(out, "mine.csv"), []byte("my own\n"), 0o644))

	said := run("histories", study)
	assert.Contains(t, said, "removed what an earlier run wrote there and this one does not: accounting.csv, coefficients.csv, detection.csv")
	assert.Contains(t, said, "kept: survival.csv. This run did not write it.")
	for name, stays := range map[string]bool{"passed.csv": false, "fit.csv": false, "survival.csv": true, "mine.csv": true, "report.html": true, "histories.csv": true, "inputs.csv": false} {
		assert.Equal(t, stays, there(name), name)
	}

	ready := filepath.Join(out, "ready.toml")
	require.NoError(t, os.WriteFile(ready, []byte("[histories]\nfile = \"histories.csv\"\n[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Scar Weir\"\n[[site]]\nname = \"Tidehead\"\n"), 0o644))
	said = run("fit", ready, "--force") // --force puts its own survival.csv in place of the changed one
	assert.Contains(t, said, "kept: histories.csv", "it is read")
	assert.True(t, there("histories.csv"))
	assert.False(t, there("next_seen.csv"))
	assert.NotContains(t, said, "survival.csv")
}
