package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// replicatesIn is how many whole replicates a file of --save holds; 0 without
// the file. What is half a file fails the test.
func replicatesIn(t *testing.T, file string) int {
	t.Helper()
	s, err := readReplicates(file)
	if errors.Is(err, fs.ErrNotExist) {
		return 0
	}
	require.NoError(t, err)
	return len(s.Replicates)
}

// Killed at any moment, the file is whole, has lost nothing that it ever held,
// and is no older than the interval.
func TestKilledKeepsCheckpoints(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	dir := t.TempDir()
	study, file := filepath.Join(dir, "demo", "study.toml"), filepath.Join(dir, "boot.jsonl")
	code, _, stderr := runHere(t.Context(), t, "demo", filepath.Dir(study))
	require.Equal(t, exitUsable, code, stderr)
	rnd := rand.New(rand.NewPCG(15, 4))
	held := 0
	for kill := range 5 {
		s := start(t, nil, "fit", study, "--interval", "bootstrap", "--replicates", "1000000", "--save", file, "--save-every", "100ms")
		var seen time.Time // when the file changed last under our eyes
		// The first checkpoint is waited for, then a moment is drawn.
		end := time.Now().Add(time.Minute)
		for time.Now().Before(end) {
			time.Sleep(20 * time.Millisecond)
			text, _ := os.ReadFile(file)
			n := max(0, bytes.Count(text, []byte("\n"))-1)
			require.True(t, len(text) == 0 || bytes.HasSuffix(text, []byte("}\n")), "whole lines")
			require.GreaterOrEqual(t, n, held)
			if n > held {
				if seen.IsZero() {
					end = time.Now().Add(time.Duration(rnd.IntN(500)) * time.Millisecond)
				}
				held, seen = n, time.Now()
			}
		}
		require.NoError(t, s.Process.Kill())
		killed := time.Now()
		<-s.done
		n := replicatesIn(t, file)
		require.GreaterOrEqual(t, n, held, "kill %d", kill)
		held = n
		require.False(t, seen.IsZero(), "no checkpoint within a minute")
		// The interval of 100 ms, and what writing takes on a busy machine.
		assert.Less(t, killed.Sub(seen), 2*time.Second, "kill %d", kill)
	}
	assert.Greater(t, held, 100, "some were made")
	assert.NoError(t, os.RemoveAll(filepath.Join(dir, ".unseen-lock")))
}

// Processes with one file lose nothing of each other's.
func TestFourProcessesWithOneFile(t *testing.T) {
	if testing.Short() && !raced {
		t.Skip("long")
	}
	dir := t.TempDir()
	study, file := smallStudy(t, dir), filepath.Join(dir, "deep", "boot.jsonl")
	var all []*started
	for i := range 4 {
		all = append(all, start(t, nil, "fit", study, "--interval", "bootstrap", "--replicates", fmt.Sprintf("%d-%d", 1+150*i, 150+150*i), "--save", file, "--save-every", "10ms"))
	}
	for _, s := range all {
		assert.Equal(t, exitUsable, s.end(t, time.Minute), s.stderr.String())
	}
	assert.Equal(t, 600, replicatesIn(t, file))
	// Another run does not get in.
	code, _, stderr := runHere(t.Context(), t, "fit", study, "--interval", "bootstrap", "--replicates", "3", "--seed", "2", "--save", file)
	assert.Equal(t, exitRefused, code)
	assert.Contains(t, stderr, "the seed differ: 2 and 1")
	assert.Equal(t, 600, replicatesIn(t, file))
}

func TestSaveOnlyToFilesOfReplicates(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	before := tree(t, dir)
	for to, why := range map[string]string{os.DevNull: "no file that replicates can be kept in", study: "no JSON", dir: "no file that replicates can be kept in"} {
		code, _, stderr := runHere(t.Context(), t, "fit", study, "--interval", "bootstrap", "--replicates", "2", "--save", to, "--force")
		assert.NotEqual(t, exitUsable, code)
		assert.Contains(t, stderr, why)
		assert.Equal(t, before, tree(t, dir))
	}
	info, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeDevice)
}

// kills is how often each command that writes is killed.
var kills = flag.Int("kills", 2, "how often each command that writes is killed: 50 take some minutes")

// Every command that writes, killed at moments of its run: no file is there in
// part, and the next run goes through and takes away what was left.
func TestKilledLeavesNoHalfFile(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	dir := t.TempDir()
	study := smallStudy(t, filepath.Join(dir, "study"))
	old, part := filepath.Join(dir, "old.json"), filepath.Join(dir, "part.jsonl")
	code, stdout, stderr := runHere(t.Context(), t, "fit", study, "--json", "--interval", "bootstrap", "--replicates", "4", "--save", part)
	require.Equal(t, exitUsable, code, stderr)
	require.NoError(t, os.WriteFile(old, []byte(stdout), 0o644))
	rnd := rand.New(rand.NewPCG(15, 50))
	temp, killed, left := t.TempDir(), 0, 0
	hidden := regexp.MustCompile(`^\.unseen-([0-9a-f]{16}|lock|temporary)$`)
	for i, line := range writers {
		out := filepath.Join(dir, fmt.Sprint("out", i))
		args := strings.Fields(strings.NewReplacer("STUDY", study, "OLD", old, "PART", part, "TABLES", filepath.Dir(study), "OUT", out, "FILE", filepath.Join(out, "out")).Replace(line))
		began := time.Now()
		s := start(t, nil, args...)
		require.Equal(t, exitUsable, s.end(t, time.Minute), s.stderr.String())
		took := time.Since(began)
		whole := tree(t, out)
		for round := range *kills {
			if round == 0 {
				require.NoError(t, os.RemoveAll(out)) // then into what is there
			}
			s := start(t, []string{"TMPDIR=" + temp}, args...)
			// Files are put in place at the end, so more kills come there.
			time.Sleep(took/2 + time.Duration(rnd.Int64N(int64(took/2)+1)))
			s.Process.Kill()
			<-s.done
			if !s.ProcessState.Exited() {
				killed++
			}
			for name, text := range tree(t, dir) {
				if strings.HasPrefix(name, out) && !strings.HasPrefix(filepath.Base(name), ".unseen-") {
					assert.Equal(t, whole[name], text, "%v: %s", args, name)
				}
				if hidden.MatchString(filepath.Base(name)) {
					left++
				}
			}
		}
		s = start(t, []string{"TMPDIR=" + temp}, args...)
		assert.Equal(t, exitUsable, s.end(t, time.Minute), "%v after kills: %s", args, s.stderr.String())
		for name := range tree(t, out) {
			assert.False(t, hidden.MatchString(filepath.Base(name)), "%v: %s is left", args, name)
		}
	}
	s := start(t, []string{"TMPDIR=" + temp}, "fit", study, "--xlsx", filepath.Join(dir, "last.xlsx"))
	require.Equal(t, exitUsable, s.end(t, time.Minute), s.stderr.String())
	assert.Empty(t, tree(t, temp))
	t.Logf("killed %d of %d in time; temporary files and locks left: %d", killed, *kills*len(writers), left)
	assert.Greater(t, killed, *kills*len(writers)/3)
}
