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
	"time"

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

// The list itself, and the lock, are nobody's outputs.
func TestTheListIsNoTarget(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, Write(filepath.Join(dir, "a.csv"), Rule{}, text("old")))
	list := content(t, filepath.Join(dir, outputsName))
	for _, name := range []string{outputsName, lockName} {
		path := filepath.Join(dir, name)
		require.ErrorAs(t, Check(path, Rule{Force: true}), new(Refusal), name)
		require.ErrorAs(t, Write(path, Rule{Force: true}, text("x")), new(Refusal), name)
	}
	assert.Equal(t, list, content(t, filepath.Join(dir, outputsName)))
	assert.Equal(t, []string{outputsName, "a.csv"}, names(t, dir))
}

func TestErrorsNameTheTarget(t *testing.T) {
	path := filepath.FromSlash("/proc/a.csv")
	err := Write(path, Rule{}, text("new"))
	require.Error(t, err)
	assert.NotContains(t, err.Error(), ".unseen")
	assert.Contains(t, err.Error(), path)
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
	unfinished.Unlock() // the process goes on here
	assert.Empty(t, names(t, dir))
	assert.NoDirExists(t, temp)
	s.Discard()
}

// What another program holds for a moment is waited for; what fails for good, or
// otherwise, is not.
func TestHeldFilesAreWaitedFor(t *testing.T) {
	inUse, other := errors.New("in use"), errors.New("no space")
	busy := func(err error) bool { return err == inUse }
	tries := 0
	then := func(last error) func() error {
		tries = 0
		return func() error {
			if tries++; tries < 4 {
				return inUse
			}
			return last
		}
	}
	require.NoError(t, patiently(time.Minute, busy, then(nil)))
	assert.Equal(t, 4, tries)
	assert.Equal(t, other, patiently(time.Minute, busy, then(other)))
	assert.Equal(t, 4, tries)
	assert.Equal(t, inUse, patiently(time.Millisecond, busy, func() error { return inUse }))
	said := held{fmt.Errorf("report.xlsx cannot be replaced: %w", &os.LinkError{Op: "rename", Old: ".unseen-1", New: "report.xlsx", Err: inUse})}
	assert.Equal(t, error(said), named(said, "report.xlsx"), "the temporary file is not spoken of, nor the words lost")
}

// A folder that cannot be locked is refused in words.
func TestNoLockSaysWhatToDo(t *testing.T) {
	err := noLock("/mnt/share", errors.ErrUnsupported)
	require.ErrorIs(t, err, errors.ErrUnsupported)
	assert.ErrorContains(t, err, "the folder /mnt/share cannot be locked")
	assert.ErrorContains(t, err, "Write into a folder of this computer")
}

// A long path, as shares and synchronised folders have.
func TestLongPaths(t *testing.T) {
	dir := t.TempDir()
	for range 8 {
		dir = filepath.Join(dir, "season two thousand and twenty-five, as it was copied")
	}
	path := filepath.Join(dir, "report.html")
	require.Greater(t, len(path), 400, "longer than old systems have them")
	require.NoError(t, Write(path, Rule{}, text("long")))
	require.NoError(t, Write(path, Rule{}, text("longer")))
	assert.Equal(t, "longer", content(t, path))
}

// Where case makes no other file, what was read is not written over under another
// spelling of its name, nor what nobody of ours made. Elsewhere they are two.
func TestNamesThatDifferInCase(t *testing.T) {
	dir := t.TempDir()
	fish, other := filepath.Join(dir, "Fish.csv"), filepath.Join(dir, "fish.csv")
	require.NoError(t, os.WriteFile(fish, []byte("input"), 0o644))
	_, err := os.Stat(other)
	one := err == nil // the file system takes them for one
	err = Write(other, Rule{Inputs: []string{fish}, Force: true}, text("new"))
	assert.Equal(t, one, err != nil)
	assert.Equal(t, "input", content(t, fish))
	report := filepath.Join(dir, "report.html")
	require.NoError(t, Write(report, Rule{}, text("old")))
	err = Write(filepath.Join(dir, "REPORT.html"), Rule{}, text("new"))
	require.NoError(t, err, "ours, by whichever name")
	if one {
		assert.Equal(t, "new", content(t, report))
	} else {
		assert.Equal(t, "old", content(t, report))
	}
}
