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

// completionFile is what a shell is to read.
func completionFile(t *testing.T, shell string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "unseen."+shell)
	require.NoError(t, os.WriteFile(path, []byte(completion(newApp(nil, nil, nil), shell)), 0o644))
	return path
}

// What fish makes of a line. Words it is not sure of come with what they are.
func TestFishCompletes(t *testing.T) {
	script := completionFile(t, "fish")
	for line, want := range map[string]string{
		"unseen se":               "season",
		"unseen fi":               "figures fit",
		"unseen fit x --survival": "--survival --survival-link",
		"unseen travel --le":      "--level",
		"unseen assess --le":      "",
		"unseen completion f":     "fish",
	} {
		cmd := exec.CommandContext(t.Context(), "fish", "--no-config", "-c", "source $argv[1]; complete -C $argv[2]", script, line)
		cmd.Dir = t.TempDir()
		cmd.Env = append(os.Environ(), "HOME="+cmd.Dir)
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, string(out))
		var words []string
		for _, l := range strings.Split(strings.TrimSpace(string(out)), "\n") {
			word, _, _ := strings.Cut(l, "\t")
			words = append(words, word)
		}
		assert.Equal(t, want, strings.Join(words, " "), line)
		assert.NotContains(t, string(out), "`")
	}
}

// What zsh makes of a line at the terminal when Tab is pressed, in a shell that has
// set up nothing before.
func TestZshCompletes(t *testing.T) {
	dir := t.TempDir()
	script, shown := completionFile(t, "zsh"), filepath.Join(dir, "shown")
	lines := []struct{ typed, want string }{
		{"unseen se", "unseen season "},
		{"unseen fit x --survival-l", "unseen fit x --survival-link "},
		{"unseen travel --lev", "unseen travel --level "},
		{"unseen assess --lev", "unseen assess --lev"},
		{"unseen fi", "unseen fi"}, // figures or fit
		{"unseen completion f", "unseen completion fish "},
	}
	var typed, want strings.Builder
	for _, l := range lines {
		typed.WriteString("zpty -w -n t '" + l.typed + "'$'\\t'$'\\x14'\n")
		want.WriteString(l.want + "\n")
	}
	driver := filepath.Join(dir, "driver.zsh")
	require.NoError(t, os.WriteFile(driver, []byte(`zmodload zsh/zpty
zpty t 'TERM=vt100 zsh -f -i'
zpty -w t 'unsetopt beep; source `+script+`; shown() { print -r -- "$BUFFER" >> `+shown+`; BUFFER= ; }; zle -N shown; bindkey "^T" shown'
`+typed.String()+`zpty -w t 'exit'
while zpty -r t line; do :; done
`), 0o644))
	cmd := exec.CommandContext(t.Context(), "zsh", "-f", driver)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "HOME="+dir, "ZDOTDIR="+dir)
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	got, err := os.ReadFile(shown)
	require.NoError(t, err, "zsh came to no line")
	assert.Equal(t, want.String(), string(got))
}

// The manual page is rendered without a word of complaint by both programs that
// systems have for it.
func TestManualIsRendered(t *testing.T) {
	dir := t.TempDir()
	page := filepath.Join(dir, "unseen.1")
	require.NoError(t, os.WriteFile(page, []byte(manual(newApp(nil, nil, nil), "v1.2.3", "2025-05-20")), 0o644))
	for _, line := range []string{"groff -ww -Kutf8 -man -Tutf8 -rLL=90n", "mandoc -Wwarning -Tutf8"} {
		words := append(strings.Fields(line), page)
		cmd := exec.CommandContext(t.Context(), words[0], words[1:]...)
		var out, complaints strings.Builder
		cmd.Stdout, cmd.Stderr = &out, &complaints
		err := cmd.Run()
		assert.NoError(t, err, line)
		assert.Empty(t, complaints.String(), line)
		plain := strings.NewReplacer("\b", "", "\x1b", "").Replace(out.String())
		assert.Contains(t, plain, "2025-05-20", line)
		assert.Greater(t, strings.Count(plain, "\n"), 200, line)
	}
}
