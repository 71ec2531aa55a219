package atomicfile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
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
	require.NoError(t, Write(path, text("long old content")))
	require.NoError(t, Write(path, text("new")))
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "new", string(b))
	assert.Equal(t, []string{"a.csv"}, names(t, dir))
}

func TestFailureLeavesTheOldFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	require.NoError(t, Write(path, text("old")))
	broken := errors.New("broken")
	err := Write(path, func(w io.Writer) error {
		io.WriteString(w, "half")
		return broken
	})
	require.ErrorIs(t, err, broken)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "old", string(b))
	assert.Equal(t, []string{"a.csv"}, names(t, dir))
}

func TestFailureLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	broken := errors.New("broken")
	err := Write(filepath.Join(dir, "new", "er", "a.csv"), func(io.Writer) error { return broken })
	require.ErrorIs(t, err, broken)
	assert.Empty(t, names(t, dir))
}

func TestSetAppearsTogether(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	s, err := NewSet(dir)
	require.NoError(t, err)
	defer s.Discard()
	for _, n := range []string{"a.csv", "sub/b.csv"} {
		w, err := s.Create(n)
		require.NoError(t, err)
		io.WriteString(w, n)
	}
	assert.NoFileExists(t, filepath.Join(dir, "a.csv"))
	require.NoError(t, s.Commit())
	assert.Equal(t, []string{"a.csv", "sub"}, names(t, dir))
	assert.Equal(t, []string{"b.csv"}, names(t, filepath.Join(dir, "sub")))
}

func TestCommitFailureLeavesNoTemporaryFile(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "a.csv", "full"), 0o755))
	s, err := NewSet(dir)
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
	s, err := NewSet(dir)
	require.NoError(t, err)
	defer s.Discard()
	s.Guard(path, filepath.Join(dir, "missing.csv"))
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
