package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fence is a block of a document that shows commands with their output.
var fence = regexp.MustCompile("(?ms)^```console\n(.*?)^```$")

// leftOut is a line of shown output that stands for any number of lines.
const leftOut = "⋮"

// TestDocuments runs every "$ unseen …" of README.md and docs/*.md, in a folder
// of the document's own, and compares what it writes with what the document
// shows.
func TestDocuments(t *testing.T) {
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	docs, err := filepath.Glob(filepath.Join(root, "docs", "*.md"))
	require.NoError(t, err)
	commands := 0
	for _, path := range append(docs, filepath.Join(root, "README.md")) {
		t.Run(filepath.Base(path), func(t *testing.T) {
			if testing.Short() && !slices.Contains(shortDocuments, filepath.Base(path)) {
				t.Skip("not with -short")
			}
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			t.Chdir(t.TempDir())
			now := fence.ReplaceAllFunc(data, func(block []byte) []byte {
				body := fence.FindSubmatch(block)[1]
				got, n := replay(t, string(body))
				commands += n
				return []byte("```console\n" + got + "```")
			})
			if *update && !bytes.Equal(data, now) {
				require.NoError(t, os.WriteFile(path, now, 0o644))
			}
		})
	}
	assert.Positive(t, commands, "no document shows a command: the test looks at nothing")
}

// shortDocuments are those whose commands run in the first seconds.
var shortDocuments = []string{"README.md", "checks.md", "growth.md", "json.md"}

// replay runs the commands of a block, with "> FILE" at the end for their output
// where the block says so, and returns it with the output they have now. Without -update a difference fails the test.
// "$ echo $?" shows the exit code of the command before it; a command that none
// follows must end with 0.
func replay(t *testing.T, body string) (now string, commands int) {
	t.Helper()
	var b strings.Builder
	code, last := 0, ""
	ended := func() {
		assert.Zero(t, code, "$ %s\nIf it is right that it fails, show the code: $ echo $?", last)
	}
	for _, part := range strings.Split("\n"+strings.TrimSuffix(body, "\n"), "\n$ ")[1:] {
		command, want, _ := strings.Cut(part, "\n")
		if command == "echo $?" {
			if !*update {
				assert.Equal(t, want, strconv.Itoa(code), "$ %s", last)
			}
			fmt.Fprintf(&b, "$ %s\n%d\n", command, code)
			code = 0
			continue
		}
		ended()
		last = command
		words, err := splitWords(command)
		require.NoError(t, err)
		require.Equal(t, "unseen", words[0], "only unseen can be run: %s", command)
		commands++
		var out, file writer
		if n := len(words) - 2; n > 0 && words[n] == ">" {
			code = run(context.Background(), words[:n], nil, &file, &out)
			require.NoError(t, os.WriteFile(words[n+1], file, 0o644))
		} else {
			code = run(context.Background(), words, nil, &out, &out)
		}
		got := strings.TrimSuffix(string(out), "\n")
		if agrees(want, got) {
			got = want
		} else if !*update {
			assert.Equal(t, want, got, "$ %s\nIf the new output is right: go test ./cmd/unseen -update", command)
		}
		b.WriteString("$ " + command + "\n")
		if got != "" {
			b.WriteString(got + "\n")
		}
	}
	ended()
	return b.String(), commands
}

// agrees compares output with what is shown, where ⋮ alone on a line stands
// for lines left out.
func agrees(shown, got string) bool {
	var pattern strings.Builder
	for i, part := range strings.Split("\n"+shown+"\n", "\n"+leftOut+"\n") {
		if i > 0 {
			pattern.WriteString(`\n(?:.*\n)*`)
		}
		pattern.WriteString(regexp.QuoteMeta(part))
	}
	return regexp.MustCompile(`\A` + pattern.String() + `\z`).MatchString("\n" + got + "\n")
}

// splitWords splits a command at blanks outside double quotes.
func splitWords(s string) ([]string, error) {
	var out []string
	quoted, some := false, false
	word := ""
	for _, r := range s + " " {
		switch {
		case r == '"':
			quoted, some = !quoted, true
		case r == ' ' && !quoted:
			if some || word != "" {
				out = append(out, word)
			}
			word, some = "", false
		default:
			word += string(r)
		}
	}
	if quoted || len(out) == 0 {
		return nil, fmt.Errorf("not a command: %q", s)
	}
	return out, nil
}

func TestAgrees(t *testing.T) {
	for _, c := range []struct {
		shown, got string
		want       bool
	}{
		{"a\nb", "a\nb", true}, {"a\nb", "a\nc", false}, {"a\nb", "a\nb\nc", false}, {"", "", true},
		{"a\n⋮\nd", "a\nb\nc\nd", true}, {"a\n⋮\nd", "a\nd", true}, {"a\n⋮", "a\nb\nc", true}, {"a\n⋮\nd", "b\nd", false},
		{"1.5", "1x5", false},
	} {
		assert.Equal(t, c.want, agrees(c.shown, c.got), "%q %q", c.shown, c.got)
	}
}

func TestSplitWords(t *testing.T) {
	got, err := splitWords(`unseen fit a.toml --survival "reach + cohort"`)
	require.NoError(t, err)
	assert.Equal(t, []string{"unseen", "fit", "a.toml", "--survival", "reach + cohort"}, got)
	_, err = splitWords(`unseen "open`)
	assert.Error(t, err)
}
