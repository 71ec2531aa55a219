package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"
)

// Every flag that takes a number refuses what is none, what is not finite, and
// what is beyond sense, at once and as an error of the call.
func TestNumbersOfTheLine(t *testing.T) {
	study := smallStudy(t, t.TempDir())
	for _, c := range newApp(nil, nil, nil).Commands {
		for _, f := range c.Flags {
			var bad []string
			name := f.Names()[0]
			switch f.(type) {
			case *cli.Float64Flag:
				bad = []string{"NaN", "Inf", "-Inf", "1e308", "1e999", "-1", "x"}
			case *cli.IntFlag:
				bad = []string{"0", "-1", "9223372036854775807", "9223372036854775808", "1e3", "x"}
			case *cli.Uint64Flag:
				bad = []string{"-1", "18446744073709551616", "1.5"}
			case *cli.DurationFlag:
				bad = []string{"0s", "-1s", "1", "10000h"}
			default:
				continue
			}
			for _, b := range bad {
				start := time.Now()
				args := []string{c.Name, study, "--" + name, b}
				switch {
				case c.Name == "fit" && name == "save-every":
					args = append(args, "--interval", "bootstrap")
				case c.Name == "changes":
					args = append(args[:1], append([]string{filepath.Join(filepath.Dir(study), "old.json")}, args[1:]...)...)
				}
				code, stdout, stderr := runHere(t.Context(), t, args...)
				assert.Equal(t, exitCall, code, "%v: %s", args, stderr)
				assert.Empty(t, stdout, args)
				assert.Contains(t, stderr, name, args)
				assert.Less(t, time.Since(start), 5*time.Second, args)
			}
		}
	}
	for _, words := range []string{"9223372036854775804-9223372036854775807", "1-1000001", "1000000001", "0-5", "5-1", "-3", "NaN", "1e3"} {
		code, _, stderr := runHere(t.Context(), t, "fit", study, "--replicates="+words) // whatever the interval
		assert.Equal(t, exitCall, code, "%s: %s", words, stderr)
		assert.Contains(t, stderr, "--replicates is \""+words+"\"")
	}
}

// Numbers of the study file are finite and of a size that a river can have.
func TestNumbersOfTheStudy(t *testing.T) {
	dir := t.TempDir()
	path := smallStudy(t, dir)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	for _, bad := range []string{"nan", "inf", "-inf", "1e308", "-1e13"} {
		now := strings.Replace(string(text), "km = 14", "km = "+bad, 1)
		require.NotEqual(t, string(text), now)
		require.NoError(t, os.WriteFile(path, []byte(now), 0o644))
		code, _, stderr := runHere(t.Context(), t, "fit", path)
		assert.Equal(t, exitRefused, code, stderr)
		assert.Contains(t, stderr, "km must be a", bad)
	}
}

// crowd is a study of ready histories with so many fish and cohorts.
func crowd(t *testing.T, fish, cohorts int) string {
	dir := t.TempDir()
	var b strings.Builder
	b.WriteString("cohort,A,B,C,D\n")
	for i := range fish {
		fmt.Fprintf(&b, "c%d,1,%d,%d,%d\n", i%cohorts, i*7%10/4%2, i*3%10/5, i*9%7/4)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte(b.String()), 0o644))
	path := filepath.Join(dir, "study.toml")
	text := "[histories]\nfile = \"h.csv\"\n"
	for _, s := range "ABCD" {
		text += fmt.Sprintf("[[site]]\nname = %q\n", string(s))
	}
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

// Counts beyond sense are refused with the number, and at once.
func TestCountsBeyondSense(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, c := range []struct {
		args string
		path string
		why  string
	}{
		{"fit", crowd(t, 20_000, 2000), "6,000 parameters or more for 20,000 fish; at most 500"},
		{"report", crowd(t, 20_000, 2000), "6,000 parameters or more for 20,000 fish; at most 500"},
		{"check", crowd(t, 20_000, 10_000), "10,000 cohorts for 20,000 fish; at most 5,000"},
		{"histories", crowd(t, 20_000, 10_000), "10,000 cohorts for 20,000 fish; at most 5,000"},
	} {
		start := time.Now()
		code, _, stderr := runHere(t.Context(), t, c.args, c.path)
		assert.Equal(t, exitRefused, code, stderr)
		assert.Contains(t, stderr, c.why, c.args)
		// A few hundredths of a second on an idle machine.
		assert.Less(t, time.Since(start), 10*time.Second)
	}
}
