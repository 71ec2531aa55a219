//go:build unix

package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// endless writes a compressed table that begins with a text and goes on with
// another for gigabytes.
func endless(t *testing.T, path, start, more string) {
	t.Helper()
	var b bytes.Buffer
	part := func(text string) []byte {
		b.Reset()
		w := gzip.NewWriter(&b)
		_, err := w.Write([]byte(text))
		require.NoError(t, err)
		require.NoError(t, w.Close())
		return bytes.Clone(b.Bytes())
	}
	all := append(part(start), bytes.Repeat(part(strings.Repeat(more, 16<<20/len(more))), 500)...)
	require.NoError(t, os.WriteFile(path, all, 0o644))
}

// Ctrl-C ends every phase within a second, with the code of the signal, and
// leaves no temporary file.
func TestInterruptedInEachPhase(t *testing.T) {
	if testing.Short() && !raced {
		t.Skip("long")
	}
	dir := t.TempDir()
	path := func(name string) string { return filepath.Join(dir, name) }
	big := path("big")
	code, _, stderr := runHere(t.Context(), t, "demo", big)
	require.Equal(t, exitUsable, code, stderr)
	demo := filepath.Join(big, "study.toml")

	// Studies of which a table never ends, or hardly.
	text, err := os.ReadFile(smallStudy(t, path("small")))
	require.NoError(t, err)
	variant := func(name, old, now string) string {
		to := filepath.Join(path("small"), name+".toml")
		require.Contains(t, string(text), old)
		require.NoError(t, os.WriteFile(to, []byte(strings.Replace(string(text), old, now, 1)), 0o644))
		return to
	}
	require.NoError(t, syscall.Mkfifo(path("small/pipe.csv"), 0o600))
	writer, err := os.OpenFile(path("small/pipe.csv"), os.O_RDWR, 0) // somebody holds it open, and writes nothing
	require.NoError(t, err)
	defer writer.Close()
	require.NoError(t, syscall.Mkfifo(path("small/nobody.csv"), 0o600))
	endless(t, path("small/blank.csv.gz"), "tag,site,time\n", "\n")
	endless(t, path("small/fish.csv.gz"), "tag,released,cohort\n", "\n")
	endless(t, path("small/cell.csv.gz"), "tag,site,time\n\"", "x")
	manyRows(t, path("small/rows.xlsx"))

	fish, arrays := `file = "fish.csv"`, `files = ["arrays"]`
	for name, args := range map[string][]string{
		"array on a pipe":               {"fit", variant("a", arrays, `files = ["pipe.csv"]`)},
		"array on a pipe nobody writes": {"check", variant("b", arrays, `files = ["nobody.csv"]`)},
		"array of zeros":                {"fit", variant("c", arrays, `files = ["/dev/zero"]`)},
		"array of blank lines":          {"fit", variant("d", arrays, `files = ["blank.csv.gz"]`)},
		"array of one cell":             {"fit", variant("e", arrays, `files = ["cell.csv.gz"]`)},
		"array of a large workbook":     {"fit", variant("f", arrays, `files = ["rows.xlsx"]`)},
		"fish on a pipe":                {"fit", variant("g", fish, `file = "pipe.csv"`)},
		"fish on a pipe nobody writes":  {"report", variant("h", fish, `file = "nobody.csv"`), "-o", path("r.html")},
		"fish of zeros":                 {"fit", variant("i", fish, `file = "/dev/zero"`)},
		"fish of blank lines":           {"fit", variant("j", fish, `file = "fish.csv.gz"`)},
		"figures":                       {"figures", variant("l", arrays, `files = ["/dev/zero"]`), "-o", path("drawn")},
		"page in the browser":           {"open", demo, "--no-browser"},
		"influence":                     {"fit", demo, "--what-if", "--survival", "reach by cohort + fork_length_mm"},
		"set-aside file":                {"check", variant("k", arrays, `files = ["blank.csv.gz"]`), "--csv", path("checked")},
		"tables guessed":                {"new", path("small/pipe.csv"), path("small/arrays"), "-o", path("new.toml")},
		"bootstrap":                     {"fit", demo, "--interval", "bootstrap", "--replicates", "1000000", "--save", path("boot.jsonl")},
		"simulations":                   {"simulate", demo, "--replicates", "1000000"},
		"profile":                       {"season", demo, "--every", "1", "--interval", "profile"},
		"replay":                        {"season", demo, "--every", "1"},
		"other optimisers":              {"fit", demo, "--as-of", "2025-05-10", "--survival", "reach + cohort + fork_length_mm", "--second-opinion"},
		"verified plan":                 {"plan", demo, "--verify", "1000000"},
		"report with a replay":          {"report", demo, "--replay", "1", "-o", path("r.html"), "--csv", path("tables")},
	} {
		t.Run(name, func(t *testing.T) {
			s := start(t, nil, args...)
			s.work(t, 400*time.Millisecond)
			if name == "bootstrap" {
				s.work(t, time.Second) // some replicates at least; to write more takes longer
			}
			require.NoError(t, s.Process.Signal(os.Interrupt))
			assert.Equal(t, 130, s.end(t, time.Second), s.stderr.String())
			assert.Equal(t, "unseen: interrupted\n", s.stderr.String())
			if args[0] != "open" { // which says where the page is
				assert.Empty(t, s.stdout.String())
			}
			left, err := os.ReadDir(s.temp)
			require.NoError(t, err)
			assert.Empty(t, left)
		})
	}
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	var names []string
	for _, e := range left {
		names = append(names, e.Name())
	}
	assert.Equal(t, []string{"big", "boot.jsonl", "small"}, names, "what was begun is gone, what --save keeps is there")
	for file := range tree(t, dir) {
		assert.NotContains(t, filepath.Base(file), ".unseen-0")
	}
}

// A pipe that lies in a folder, and that nobody named, is passed over.
func TestPipesInFolders(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	for _, name := range []string{"p", "p.csv", "arrays/p.csv"} {
		require.NoError(t, syscall.Mkfifo(filepath.Join(dir, name), 0o600))
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	code, _, stderr := runHere(ctx, t, "fit", study)
	assert.Equal(t, exitUsable, code, stderr)
	code, _, stderr = runHere(ctx, t, "new", dir, "-o", filepath.Join(dir, "new.toml"))
	assert.Equal(t, exitUsable, code, stderr)
	text, err := os.ReadFile(filepath.Join(dir, "new.toml"))
	require.NoError(t, err)
	for _, name := range []string{"p", "p.csv", "arrays/p.csv"} {
		assert.Contains(t, string(text), name+" (it is no file)")
	}
}

// manyRows writes a workbook of sightings that takes seconds to read.
func manyRows(t *testing.T, path string) {
	t.Helper()
	f := excelize.NewFile()
	w, err := f.NewStreamWriter("Sheet1")
	require.NoError(t, err)
	require.NoError(t, w.SetRow("A1", []any{"tag", "site", "time"}))
	for i := range 300_000 {
		require.NoError(t, w.SetRow(fmt.Sprintf("A%d", i+2), []any{"999041000000001", "Scar Weir", "2025-04-05 04:00"}))
	}
	require.NoError(t, w.Flush())
	require.NoError(t, f.SaveAs(path))
	require.NoError(t, f.Close())
}

// Each signal has its code, and the second one ends even what heeds none.
func TestSignals(t *testing.T) {
	if testing.Short() && !raced {
		t.Skip("long")
	}
	dir := t.TempDir()
	study := smallStudy(t, dir)
	for s, code := range map[syscall.Signal]int{syscall.SIGINT: 130, syscall.SIGTERM: 143, syscall.SIGHUP: 129} {
		p := start(t, nil, "simulate", study, "--replicates", "1000000", "--csv", filepath.Join(dir, "out"))
		p.work(t, 300*time.Millisecond)
		require.NoError(t, p.Process.Signal(s))
		assert.Equal(t, code, p.end(t, time.Second), "%v: %s", s, p.stderr.String())
		assert.NoDirExists(t, filepath.Join(dir, "out"))
	}
	// A pipe that nobody reads: the answer can never be written.
	pipe := filepath.Join(dir, "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	p := start(t, nil, "report", study, "-o", pipe)
	p.work(t, 1500*time.Millisecond)
	require.NoError(t, p.Process.Signal(syscall.SIGTERM))
	p.work(t, 300*time.Millisecond)
	left, err := os.ReadDir(p.temp)
	require.NoError(t, err)
	require.Len(t, left, 1, "the page, until it is written through")
	require.NoError(t, p.Process.Signal(syscall.SIGTERM))
	assert.Equal(t, 143, p.end(t, time.Second))
	left, err = os.ReadDir(p.temp)
	require.NoError(t, err)
	assert.Empty(t, left)
	// The first signal is enough, though nothing in this step heeds it.
	p = start(t, nil, "report", study, "-o", pipe)
	p.work(t, 1500*time.Millisecond)
	require.NoError(t, p.Process.Signal(syscall.SIGHUP))
	assert.Equal(t, 129, p.end(t, time.Second))
	assert.Equal(t, "unseen: interrupted\n", p.stderr.String())
	left, err = os.ReadDir(p.temp)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// An answer that nobody reads any more ends the run in silence, and leaves no
// temporary file.
func TestNobodyReads(t *testing.T) {
	self, err := os.Executable()
	require.NoError(t, err)
	temp := t.TempDir()
	c := exec.Command("/bin/sh", "-c", `{ "$0" demo --full; echo $? >&2; } | true`, self)
	c.Env = append(os.Environ(), asUnseen+"=1", "TMPDIR="+temp)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	require.NoError(t, c.Run())
	assert.Equal(t, "141\n", stderr.String())
	left, err := os.ReadDir(temp)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// A run under nohup goes on when the terminal is closed.
func TestNohup(t *testing.T) {
	if testing.Short() && !raced {
		t.Skip("long")
	}
	study := smallStudy(t, t.TempDir())
	self, err := os.Executable()
	require.NoError(t, err)
	c := exec.Command("/bin/sh", "-c", `trap "" HUP; exec "$0" simulate "$1" --replicates 1000000`, self, study)
	ready := filepath.Join(t.TempDir(), "ready")
	c.Env = append(os.Environ(), asUnseen+"=1", whenReady+"="+ready)
	require.NoError(t, c.Start())
	waitFor(t, ready)
	require.NoError(t, c.Process.Signal(syscall.SIGHUP))
	time.Sleep(300 * time.Millisecond)
	require.NoError(t, c.Process.Signal(syscall.SIGTERM), "it still runs")
	err = c.Wait()
	require.Error(t, err)
	assert.Equal(t, 143, c.ProcessState.ExitCode())
}
