//go:build languages

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The programs of docs/python.md and docs/r.md, run as they stand there with the
// built program on the path, on the demo.
func TestOtherLanguages(t *testing.T) {
	bin := t.TempDir()
	said, err := exec.Command("go", "build", "-o", filepath.Join(bin, "unseen"), ".").CombinedOutput()
	require.NoError(t, err, string(said))
	t.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	demo, err := filepath.Abs("internal/demo/files")
	require.NoError(t, err)
	for page, program := range map[string][]string{"python": {"python3", "x.py"}, "r": {"Rscript", "x.R"}} {
		t.Run(page, func(t *testing.T) {
			text, err := os.ReadFile("../../docs/" + page + ".md")
			require.NoError(t, err)
			_, code, ok := strings.Cut(string(text), "```"+page+"\n")
			require.True(t, ok)
			code, _, ok = strings.Cut(code, "```\n")
			require.True(t, ok)
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, program[1]), []byte(code), 0o644))
			cmd := exec.CommandContext(t.Context(), program[0], program[1], demo)
			cmd.Dir = dir
			out, err := cmd.CombinedOutput()
			require.NoError(t, err, string(out))
			// The shares of docs/tutorial.md, which the program itself prints.
			assert.Equal(t, "Alder Ford: 71.6 % (68.7 to 74.3)\nScar Weir: 44.8 % (42.0 to 47.6)\nTidehead: 35.6 % (30.1 to 43.2)\n1800 fish, the first is 999041000000031\n", string(out))
		})
	}
}
