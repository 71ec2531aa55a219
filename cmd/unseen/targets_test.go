package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The files that are looked for in advance are written in any case.
func TestTargetsAreWritten(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	study := smallStudy(t, filepath.Join(dir, "study"))
	old, part := filepath.Join(dir, "old.json"), filepath.Join(dir, "part.jsonl")
	code, stdout, stderr := runHere(t.Context(), t, "fit", study, "--json", "--interval", "bootstrap", "--replicates", "4", "--save", part)
	require.Equal(t, exitUsable, code, stderr)
	require.NoError(t, os.WriteFile(old, []byte(stdout), 0o644))
	tried := map[string]bool{}
	for _, line := range append(writers, "demo --csv OUT") {
		command := strings.Fields(line)[0]
		for flag, commands := range folderTargets {
			at := strings.Index(line, "OUT")
			names, there := commands[command]
			if !there || at < 0 || !strings.HasSuffix(strings.TrimSpace(line[:at]), map[string]string{"csv": "--csv", "out": "--out", "output": "-o"}[flag]) {
				continue
			}
			out := filepath.Join(dir, command+flag)
			code, _, stderr := runHere(t.Context(), t, strings.Fields(strings.NewReplacer("STUDY", study, "OLD", old, "PART", part, "OUT", out).Replace(line))...)
			require.Equal(t, exitUsable, code, "%s: %s", line, stderr)
			for _, name := range names {
				assert.FileExists(t, filepath.Join(out, name), line)
			}
			tried[flag+" "+command] = true
		}
	}
	for flag, commands := range folderTargets {
		for command := range commands {
			assert.True(t, tried[flag+" "+command], "%s --%s was not tried", command, flag)
		}
	}
}

// A target that is refused is so before the tables are read: here they cannot be,
// and nobody gets to know.
func TestTargetsAreRefusedFirst(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte("no table"), 0o644))
	mine := filepath.Join(dir, "mine")
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o644))
	out := filepath.Join(dir, "out")
	require.NoError(t, os.Mkdir(out, 0o755))
	for _, name := range []string{"inputs.csv", "passed.csv", "fish.csv", "captions.txt"} {
		require.NoError(t, os.WriteFile(filepath.Join(out, name), []byte("mine"), 0o644))
	}
	before := tree(t, dir)
	for _, line := range []string{
		"fit STUDY --xlsx MINE", "season STUDY --csv OUT", "compare STUDY --csv OUT", "report STUDY -o MINE", "report STUDY --csv OUT",
		"plan STUDY --save MINE", "plan STUDY --figure MINE", "simulate STUDY --out OUT", "simulate STUDY --replicates 2 --csv OUT",
		"figures STUDY -o OUT", "fit STUDY --csv MINE", "fit STUDY --xlsx OUT", "fit STUDY --xlsx MINE/x.xlsx", "fit STUDY --xlsx STUDY --force",
	} {
		code, stdout, stderr := runHere(t.Context(), t, strings.Fields(strings.NewReplacer("STUDY", study, "MINE", mine, "OUT", out).Replace(line))...)
		assert.Equal(t, exitCall, code, "%s: %s", line, stderr)
		assert.Empty(t, stdout, line)
		assert.NotContains(t, stderr, "no table", line)
		assert.Equal(t, before, tree(t, dir), line)
	}
	code, _, stderr := runHere(t.Context(), t, "fit", study, "--xlsx", filepath.Join(dir, "new.xlsx"))
	assert.Equal(t, exitRefused, code)
	assert.Contains(t, stderr, "fish.csv", "the tables can be read after all: the test tests nothing")
	assert.Equal(t, before, tree(t, dir))
}
