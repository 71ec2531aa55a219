package main

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every command and flag is in what each shell is told, and in the manual page.
func TestCompletionsKnowEverything(t *testing.T) {
	for _, shell := range shells {
		code, out, stderr := runHere(t.Context(), t, "completion", shell)
		require.Equal(t, exitUsable, code, stderr)
		plain := strings.ReplaceAll(out, `\-`, "-")
		for _, c := range newApp(nil, nil, nil).VisibleCommands() {
			assert.Contains(t, plain, c.Name, shell)
			for _, f := range flagsOf(c) {
				name := f
				if shell == "fish" {
					name = "-l " + strings.TrimPrefix(f, "--")
				}
				assert.Contains(t, plain, name, "%s: %s", shell, c.Name)
			}
		}
	}
	code, _, stderr := runHere(t.Context(), t, "completion", "tcsh")
	assert.Equal(t, exitCall, code)
	assert.Contains(t, stderr, "bash, zsh, fish, powershell, man")
}

// What bash makes of a line.
func TestBashCompletes(t *testing.T) {
	_, script, _ := runHere(t.Context(), t, "completion", "bash")
	for line, want := range map[string]string{
		"unseen se":               "season",
		"unseen fit x --survival": "--survival --survival-link",
		"unseen assess --le":      "",
		"unseen travel --le":      "--level",
		"unseen fit x.toml y":     "",
		"unseen completion f":     "fish",
	} {
		words := strings.Fields(line)
		cmd := exec.CommandContext(t.Context(), "bash", "--norc", "-c", script+`
COMP_WORDS=("$@") COMP_CWORD=$(($# - 1)); _unseen; echo "${COMPREPLY[*]}"`, "bash")
		cmd.Args = append(cmd.Args, words...)
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, string(out))
		assert.Equal(t, want, strings.TrimSpace(string(out)), line)
	}
}
