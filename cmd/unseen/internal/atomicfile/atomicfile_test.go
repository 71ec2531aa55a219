package atomicfile

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func names(t *testing.T, dir string) []string {
	t.Helper()
	es, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := []string{}
	for _, e := range es {
		out = append(out, e.Name())
	}
	return out
}

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func TestWriteReplacesWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	require.NoError(t, Write(path, Rule{}, text("long old content")))
	require.NoError(t, Write(path, Rule{}, text("new")))
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "new", string(b))
	assert.Equal(t, []string{outputsName, "a.csv"}, names(t, dir))
}

func TestFailureLeavesTheOldFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	require.NoError(t, Write(path, Rule{}, text("old")))
	broken := errors.New("broken")
	err := Write(path, Rule{}, func(w io.Writer) error {
		io.WriteString(w, "half")
		return broken
	})
	require.ErrorIs(t, err, broken)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "old", string(b))
	assert.Equal(t, []string{outputsName, "a.csv"}, names(t, dir))
}

func TestFailureLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	broken := errors.New("broken")
	err := Write(filepath.Join(dir, "new", "er", "a.csv"), Rule{}, func(io.Writer) error { return broken })
	require.ErrorIs(t, err, broken)
	assert.Empty(t, names(t, dir))
}

func TestSetAppearsTogether(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	s, err := NewSet(dir, Rule{})
	require.NoError(t, err)
	defer s.Discard()
	for _, n := range []string{"a.csv", "sub/b.csv"} {
		w, err := s.Create(n)
		require.NoError(t, err)
		io.WriteString(w, n)
	}
	assert.NoFileExists(t, filepath.Join(dir, "a.csv"))
	require.NoError(t, s.Commit())
	assert.Equal(t, []string{outputsName, "a.csv", "sub"}, names(t, dir))
	assert.Equal(t, []string{outputsName, "b.csv"}, names(t, filepath.Join(dir, "sub")))
}

func TestCommitFailureLeavesNoTemporaryFile(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "a.csv", "full"), 0o755))
	s, err := NewSet(dir, Rule{})
	require.NoError(t, err)
	_, err = s.Create("a.csv") // a folder of this name is in the way
	require.NoError(t, err)
	require.Error(t, s.Commit())
	assert.Equal(t, []string{"a.csv"}, names(t, dir))
}

func TestGuardedFilesAreNotReplaced(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	require.NoError(t, os.WriteFile(path, []byte("input"), 0o644))
	s, err := NewSet(dir, Rule{})
	require.NoError(t, err)
	defer s.Discard()
	s.Keep(Rule{Inputs: []string{path, filepath.Join(dir, "missing.csv")}, Force: true})
	for _, n := range []string{"b.csv", "a.csv"} {
		_, err = s.Create(n)
		require.NoError(t, err)
	}
	require.ErrorContains(t, s.Commit(), "one of the files that were read")
	assert.Equal(t, []string{"a.csv"}, names(t, dir))
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "input", string(b))
}

func content(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(b)
}

// Only what was made and is unchanged is replaced, unless force is used.
func TestOnlyOwnFilesAreReplaced(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	require.NoError(t, os.WriteFile(path, []byte("the user's"), 0o600))
	err := Write(path, Rule{}, text("new"))
	require.ErrorAs(t, err, new(Refusal))
	assert.ErrorContains(t, err, path)
	assert.Equal(t, "the user's", content(t, path))
	assert.Equal(t, []string{"a.csv"}, names(t, dir))

	require.NoError(t, Write(path, Rule{Force: true}, text("first")))
	require.NoError(t, Write(path, Rule{}, text("second")), "made by us and unchanged")
	assert.Equal(t, "second", content(t, path))
	require.NoError(t, os.WriteFile(path, []byte("second, corrected by hand"), 0o600))
	require.ErrorAs(t, Write(path, Rule{}, text("third")), new(Refusal))
	assert.Equal(t, "second, corrected by hand", content(t, path))
	require.NoError(t, os.Remove(path))
	require.NoError(t, Write(path, Rule{}, text("fourth")), "a file that is gone is no matter")
	require.ErrorAs(t, Write(path, Rule{Reads: func(string) string { return "read" }}, text("x")), new(Refusal))
	require.NoError(t, os.WriteFile(filepath.Join(dir, outputsName), []byte("{"), 0o600))
	require.ErrorContains(t, Write(path, Rule{}, text("x")), outputsName)
	assert.Equal(t, "fourth", content(t, path))
}

// Killed between the list and the file, what is then there is still ours.
func TestTheListIsWrittenFirst(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	require.NoError(t, Write(path, Rule{}, text("old")))
	o, err := openOutputs(dir)
	require.NoError(t, err)
	f, err := createTemp(dir)
	require.NoError(t, err)
	out := &file{f, sha256.New(), path, false}
	out.Write([]byte("new"))
	require.NoError(t, Rule{}.allows(out, o))
	require.NoError(t, o.write())
	o.unlock()
	f.Close()
	os.Remove(f.Name())
	assert.Equal(t, "old", content(t, path))
	require.NoError(t, Write(path, Rule{}, text("newer")))
}

func TestErrorsNameTheTarget(t *testing.T) {
	err := Write("/proc/a.csv", Rule{}, text("new"))
	require.Error(t, err)
	assert.NotContains(t, err.Error(), ".unseen")
	assert.Contains(t, err.Error(), "/proc/a.csv")
}

// Many writers of one folder lose nothing of what each has made.
func TestManyWriters(t *testing.T) {
	dir := t.TempDir()
	var wg sync.WaitGroup
	for i := range 20 {
		wg.Go(func() {
			for range 3 {
				assert.NoError(t, Write(filepath.Join(dir, fmt.Sprint(i)), Rule{}, text("x")))
			}
		})
	}
	wg.Wait()
	o, err := openOutputs(dir)
	require.NoError(t, err)
	o.unlock()
	assert.Len(t, o.Files, 20)
	assert.Len(t, names(t, dir), 21)
}

func TestAbandonLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	s, err := NewSet(dir, Rule{})
	require.NoError(t, err)
	_, err = s.Create("a.csv")
	require.NoError(t, err)
	temp, _, err := MkdirTemp()
	require.NoError(t, err)
	Abandon()
	assert.Empty(t, names(t, dir))
	assert.NoDirExists(t, temp)
	s.Discard()
}
