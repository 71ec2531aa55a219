//go:build notebooks

package notebooks_test

import (
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCurrent executes the notebooks again, with the program as it is now, and
// compares what they show with what is committed. It needs what execute.py
// needs; the variable PYTHON names another Python than Debian's.
func TestCurrent(t *testing.T) {
	python := os.Getenv("PYTHON")
	if python == "" {
		python = "/usr/bin/python3"
	}
	// The test cache sees what a test opens, not what it builds: show it.
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() && d.Name() == ".git" {
			return filepath.SkipDir
		}
		return err
	}))
	dir := t.TempDir()
	program := filepath.Join(dir, "unseen")
	out, err := exec.Command("go", "build", "-o", program, "../cmd/unseen").CombinedOutput()
	require.NoError(t, err, "%s", out)
	run := exec.Command(python, append([]string{"execute.py", "--into", dir}, paths(t)...)...)
	run.Env = append(os.Environ(), "UNSEEN="+program, "PYTHONDONTWRITEBYTECODE=1")
	out, err = run.CombinedOutput()
	require.NoError(t, err, "%s", out)
	for _, path := range paths(t) {
		t.Run(path, func(t *testing.T) {
			err := differ(read(t, path), read(t, filepath.Join(dir, path)))
			assert.NoError(t, err, "if the new output is right: notebooks/execute.py")
		})
	}
}

// differ says where two notebooks show different things.
func differ(was, is notebook) error {
	if len(was.Cells) != len(is.Cells) {
		return fmt.Errorf("%d cells, now %d", len(was.Cells), len(is.Cells))
	}
	for i, a := range was.Cells {
		b := is.Cells[i]
		if a.ID != b.ID || a.Type != b.Type || a.Source != b.Source {
			return fmt.Errorf("cell %s has another source", a.ID)
		}
		if len(a.Outputs) != len(b.Outputs) {
			return fmt.Errorf("cell %s has %d outputs, now %d", a.ID, len(a.Outputs), len(b.Outputs))
		}
		for j, o := range a.Outputs {
			p := b.Outputs[j]
			if o.Type != p.Type || o.Name != p.Name || len(o.Data) != len(p.Data) {
				return fmt.Errorf("cell %s has another kind of output", a.ID)
			}
			if err := sameText(string(o.Text), string(p.Text)); err != nil {
				return fmt.Errorf("cell %s: %w", a.ID, err)
			}
			for kind, text := range o.Data {
				if err := sameText(string(text), string(p.Data[kind])); err != nil {
					return fmt.Errorf("cell %s, %s: %w", a.ID, kind, err)
				}
			}
		}
	}
	return nil
}

var number = regexp.MustCompile(`\d+(?:,\d{3})*(?:\.\d+)?`)

// sameText compares texts, with the blanks that line numbers up, line by line.
// Printed numbers may differ by one in their last digit, as they do where two
// machines round a hair's breadth apart; whole numbers are counts and may not.
func sameText(was, is string) error {
	a, b := strings.Split(was, "\n"), strings.Split(is, "\n")
	if len(a) != len(b) {
		return fmt.Errorf("%d lines, now %d:\n%s", len(a), len(b), is)
	}
	for i := range a {
		if number.ReplaceAllString(a[i], "0") != number.ReplaceAllString(b[i], "0") {
			return fmt.Errorf("shows\n%s\nnow\n%s", a[i], b[i])
		}
		x, y := number.FindAllString(a[i], -1), number.FindAllString(b[i], -1)
		for k := range x {
			if !sameNumber(x[k], y[k]) {
				return fmt.Errorf("shows %s, now %s:\n%s", x[k], y[k], b[i])
			}
		}
	}
	return nil
}

func sameNumber(was, is string) bool {
	if was == is {
		return true
	}
	_, decimals, _ := strings.Cut(was, ".")
	_, others, _ := strings.Cut(is, ".")
	a, errA := strconv.ParseFloat(strings.ReplaceAll(was, ",", ""), 64)
	b, errB := strconv.ParseFloat(strings.ReplaceAll(is, ",", ""), 64)
	if errA != nil || errB != nil {
		return false
	}
	// SVG writes no zeros behind, so the finer of the two counts.
	unit := math.Pow(10, -float64(max(len(decimals), len(others))))
	return unit < 1 && math.Abs(a-b) <= 1.01*unit
}

func TestSameText(t *testing.T) {
	for _, c := range []struct {
		was, is string
		same    bool
	}{
		{"35.6 %", "35.6 %", true}, {"35.6 %", "35.7 %", true}, {"35.6 %", "35.8 %", false}, {"35.6 %", "-35.6 %", false},
		{"424 fish", "425 fish", false}, {"1,800", "1,801", false}, {"a 1.5", "b 1.5", false}, {"a\nb", "a", false},
		{"M1.5 2", "M1.49 2.01", true}, {"M1.5 2", "M1.48 2", false}, {"None", "1.5", false},
	} {
		assert.Equal(t, c.same, sameText(c.was, c.is) == nil, "%q %q", c.was, c.is)
	}
}
