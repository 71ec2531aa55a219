package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"
)

const dipper = "../../testdata/published/lebreton1992/dipper.toml"

func TestExitCodes(t *testing.T) {
	broken := filepath.Join(t.TempDir(), "broken.toml")
	require.NoError(t, os.WriteFile(broken, []byte("titel = \"x\"\n"), 0o644))
	mine := filepath.Join(t.TempDir(), "study.toml")
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o644))
	for _, c := range []struct {
		args   string
		code   int
		stderr string // part of it; "" means empty
	}{
		{"", exitUsable, ""},
		{"--help", exitUsable, ""},
		{"--version", exitUsable, ""},
		{"fit --help", exitUsable, ""},
		{"help", exitUsable, ""},
		{"help fit", exitUsable, ""},
		{"help fti", exitCall, `did you mean "fit"?`},
		{"fit --assumptions", exitUsable, ""},
		{"fit " + dipper, exitUsable, ""},
		{"fit " + dipper + " --survival nonsense", exitCall, `nothing in this study is called "nonsense"`},
		{"fit --survival=reach+ " + dipper, exitCall, `ends where a name should follow`},
		{"compare " + dipper + " --detection nonsense --survival reach", exitCall, `"nonsense"`},
		{"fit " + broken, exitRefused, `title`},
		{"fti " + dipper, exitCall, `did you mean "fit"?`},
		{dipper, exitCall, "to fit a study: unseen fit " + dipper},
		{"fit", exitCall, "fit needs a study file"},
		{"fit a b", exitCall, "takes one study file, not 2"},
		{"fit nowhere.toml", exitCall, "there is no file nowhere.toml"},
		{"fit " + dipper + " --modle x", exitCall, "did you mean --model?"},
		{"fit --nonsense " + dipper, exitCall, "no flag --nonsense"},
		{"fit " + dipper + " --level", exitCall, "--level needs a value"},
		{"fit " + dipper + " --level many", exitCall, "level"},
		{"fit " + dipper + " --level 95", exitCall, "between 0.001 and 0.999999"},
		{"fit " + dipper + " --interval guess", exitCall, "logit or profile"},
		{"fit " + dipper + " --as-of yesterday", exitCall, "is no time"},
		{"fit " + dipper + " --model x", exitCall, "has no [[model]]"},
		{"fit " + dipper + " --model x --survival reach", exitCall, "not both"},
		{"--nonsense", exitCall, "nonsense"},
		{"fit " + dipper + " --variance-inflation 0.5", exitCall, "--variance-inflation is 0.5; it is a number from 1 to 1000000, or auto"},
		{"fit " + dipper + " --variance-inflation some", exitCall, "or auto"},
		{"fit " + dipper + " --variance-inflation nan", exitCall, "--variance-inflation is NaN"},
		{"compare " + dipper + " --variance-inflation 1e308", exitCall, "--variance-inflation is 1e+308"},
		{"fit " + dipper + " --variance-inflation 1e999", exitCall, "--variance-inflation is +Inf"},
		{"simulate " + dipper + " --replicates 2 --break second-kind=0.1:inf:0", exitCall, "--break \"second-kind=0.1:inf:0\""},
		{"fit " + dipper + " --variance-inflation auto", exitUsable, ""},
		{"compare " + dipper, exitCall, "has no [[model]] to compare"},
		{"compare " + dipper + " --survival reach --detection site --test x", exitCall, "--test and --against go together"},
		{"compare " + dipper + " --survival reach --detection site --test x --against y", exitCall, "there is no variant"},
		{"compare " + dipper + " --survival reach --survival floud", exitCall, "did you mean flood?"},
		{"compare " + dipper + " --survival reach --survival flood+", exitCall, "ends where a name should follow"},
		{"histories " + dipper + " --counts --next-seen", exitCall, "not both"},
		{"plan " + dipper + " --want nonsense", exitCall, "says no precision"},
		{"plan " + dipper + " --power early", exitCall, "compares nothing"},
		{"plan " + dipper + " --alpha 5", exitCall, "--alpha is 5"},
		{"plan " + dipper + " --chance 80", exitCall, "--chance is 80"},
		{"fit " + dipper + " --level 1e-320", exitCall, "--level is 1e-320"},
		{"fit " + dipper + " --level 0.9 --level 0.8", exitCall, "--level is given twice"},
		{"fit " + dipper + " --save x.jsonl", exitCall, "--save is about --interval bootstrap"},
		{"fit " + dipper + " --interval profile --seed 3", exitCall, "--seed is about --interval bootstrap"},
		{"fit " + dipper + " --interval bootstrap --save-every 1s", exitCall, "--save-every is about --save"},
		{"plan " + dipper + " --alpha 0.01", exitCall, "--alpha is about --power"},
		{"plan " + dipper + " --seed 1", exitCall, "--seed is about --verify"},
		{"simulate " + dipper + " --replicates 2 --index 3", exitCall, "--index is about --out"},
		{"compare ../../testdata/hard/thin/profile-30/study.toml --survival-link logit", exitCall, "--survival-link is of terms on the line"},
		{"report " + dipper + " -o nofolder/", exitCall, "nofolder/ is the name of a folder"},
		{"fit " + os.DevNull, exitRefused, "is a device or a pipe and no file"},
		{"merge " + os.DevNull, exitRefused, "is a device or a pipe and no file"},
		{"changes " + os.DevNull + " " + dipper, exitRefused, "is a device or a pipe and no file"},
		{"plan " + os.DevNull, exitRefused, "is a device or a pipe and no file"},
		{"simulate " + dipper + " --truth " + os.DevNull + " --replicates 2", exitRefused, "is a device or a pipe and no file"},
		{"plan " + dipper + " --fish 0", exitCall, "at least 1"},
		{"plan " + dipper + " --verify 3", exitCall, "at least 10"},
		{"plan " + dipper + " --save " + mine, exitCall, "nothing of yours is overwritten"},
		{"open . --port 0", exitCall, "--port"},
		{"open --port 0 .", exitCall, "--port"},
		{"demo a b", exitCall, "takes one folder"},
		{"demo " + filepath.Dir(mine), exitCall, "nothing of yours is overwritten"},
	} {
		code, _, stderr := runHere(t.Context(), t, strings.Fields(c.args)...)
		assert.Equal(t, c.code, code, "unseen %s: %s", c.args, stderr)
		if c.stderr == "" {
			assert.Empty(t, stderr, "unseen %s", c.args)
		} else {
			assert.Contains(t, stderr, c.stderr, "unseen %s", c.args)
		}
	}
}

func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	code, stdout, stderr := runHere(ctx, t, "fit", dipper)
	assert.Equal(t, exitInterrupted, code)
	assert.Empty(t, stdout)
	assert.Equal(t, "unseen: interrupted\n", stderr)
}

func TestAnAnswerThatCannotBeWrittenIsAFailure(t *testing.T) {
	var stderr writer
	code := run(t.Context(), []string{"unseen", "fit", dipper}, nil, full{}, &stderr)
	assert.Equal(t, exitRefused, code)
	assert.Contains(t, string(stderr), "could not be written: disk full")
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

// Every command takes its flags before and after the study file.
func TestFlagsOnBothSides(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	flags := map[string][]string{
		"fit":       {"--json", "--survival", "same", "--detection=site", "--level", "0.9"},
		"histories": {"--json", "--counts"},
		"check":     {"--json"},
		"compare":   {"--json", "--survival", "same", "--detection", "site", "--survival=reach"},
		"travel":    {"--json", "--from-last", "--level", "0.9"},
		"season":    {"--json", "--every", "14", "--level", "0.9", "--drift=same"},
		"growth":    {"--json", "--tag-weight", "0.6"},
		"assess":    {"--json", "--survival", "same", "--detection=site"},
		"plan":      {"--json", "--fish", "400", "--options"},
		"simulate":  {"--json", "--replicates", "3", "--survival", "same", "--detection=site"},
		"demo":      {"--json", "--level", "0.9"},
		"report":    {"--survival", "same", "--detection=site", "--level", "0.9"},
		"figures":   {"--output=" + t.TempDir(), "--format", "svg", "--only", "passage"},
	}
	for _, command := range newApp(nil, io.Discard, io.Discard).Commands {
		given, ok := flags[command.Name]
		if slices.Contains([]string{"new", "changes", "merge", "explain", "completion", "open"}, command.Name) {
			continue // they have files, tested in scripts, or no flags; open serves until it is stopped
		}
		require.True(t, ok, "%s has no flags in this test", command.Name)
		study := []string{dipper}
		switch command.Name {
		case "demo":
			study = nil
		case "travel", "growth", "season": // need times, lengths
			study = []string{"internal/demo/files"}
		}
		var before, after []string
		before = append(append(append(before, command.Name), given...), study...)
		after = append(append(append(after, command.Name), study...), given...)
		code, one, stderr := runHere(t.Context(), t, before...)
		require.Equal(t, exitUsable, code, "%v: %s", before, stderr)
		code, two, stderr := runHere(t.Context(), t, after...)
		require.Equal(t, exitUsable, code, "%v: %s", after, stderr)
		assert.Equal(t, one, two, command.Name)
		_, plain, _ := runHere(t.Context(), t, append([]string{command.Name}, study...)...)
		assert.NotEqual(t, plain, one, "the flags of %s change nothing", command.Name)
	}
}

// Help names every flag and shows an example.
func TestHelpIsComplete(t *testing.T) {
	for _, command := range newApp(nil, io.Discard, io.Discard).Commands {
		_, out, _ := runHere(t.Context(), t, command.Name, "--help")
		for _, f := range command.Flags {
			assert.Contains(t, out, "--"+f.Names()[0], command.Name)
		}
		assert.Contains(t, out, "Example:  unseen "+command.Name, command.Name)
		for _, line := range strings.Split(out, "\n") {
			assert.LessOrEqual(t, len(line), 100, "%s: %s", command.Name, line)
			if strings.Contains(line, "Example:") {
				assert.LessOrEqual(t, len(line), 80, "an example is to be copied from a narrow terminal too: %s", line)
			}
		}
	}
}

func TestReadmeNamesEveryCommand(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	for _, command := range newApp(nil, io.Discard, io.Discard).Commands {
		assert.Regexp(t, "(?m)^- `"+command.Name+"[` ]", string(readme))
	}
}

// Every number of every command is checked, for being one and for its range.
func TestNumbersOnTheLine(t *testing.T) {
	met := map[string]bool{}
	for _, c := range newApp(nil, io.Discard, io.Discard).Commands {
		for _, f := range c.Flags {
			switch f.(type) {
			case *cli.IntFlag, *cli.Uint64Flag:
				name := f.Names()[0]
				for _, v := range []string{"0x10", "1_000", "1e3", "NaN", "1.5", "１", "1 000", "--"} {
					code, stdout, stderr := runHere(t.Context(), t, c.Name, dipper, "--"+name+"="+v)
					assert.Equal(t, exitCall, code, "%s --%s %s", c.Name, name, v)
					assert.Empty(t, stdout)
					assert.Equal(t, fmt.Sprintf("unseen: --%s is %q; it is a whole number\n", name, v), stderr)
				}
			case *cli.Float64SliceFlag:
				t.Errorf("%s --%s: a list of numbers is not checked", c.Name, f.Names()[0])
			case *cli.Float64Flag:
				name := f.Names()[0]
				met[name] = true
				for _, v := range []string{"nan", "inf", "-inf", "-1", "1e300"} {
					code, stdout, stderr := runHere(t.Context(), t, c.Name, dipper, "--"+name+"="+v)
					assert.Equal(t, exitCall, code, "%s --%s %s", c.Name, name, v)
					assert.Empty(t, stdout)
					assert.Regexp(t, "^unseen: --"+name+` is [^;]+; it is a number between [0-9.]+ and [0-9.]+, such as 0\.\d+\n$`, stderr)
				}
			}
		}
	}
	assert.Len(t, met, 4, "level, tag-weight, alpha, chance: %v", met)
}

// Help is of the command, wherever it is asked for.
func TestHelpAfterTheStudy(t *testing.T) {
	_, want, _ := runHere(t.Context(), t, "fit", "--help")
	for _, args := range [][]string{{"fit", dipper, "--help"}, {"fit", "--json", dipper, "-h"}, {"fit", "--help", dipper, "--json"}} {
		code, out, stderr := runHere(t.Context(), t, args...)
		assert.Equal(t, exitUsable, code, stderr)
		assert.Equal(t, want, out)
	}
}
