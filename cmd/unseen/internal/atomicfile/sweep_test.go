package atomicfile

import (
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What killed processes left goes with the next writing into a folder; what is
// somebody's stays.
func TestSweep(t *testing.T) {
	dir := t.TempDir()
	own := func(path, text string) string {
		t.Helper()
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, path)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, path), []byte(text), 0o644))
		return path
	}
	own(".unseen-00000000deadbeef", "left")
	stays := []string{
		own(".unseen-00000000deadbee", "too short"), own(".unseen-00000000DEADBEEF", "other letters"),
		own("unseen-00000000deadbeef", "no dot"), own(".unseen-00000000deadbeef.csv", "an ending"),
		own(".unseen-00000000deadbee0/mine.csv", "in a folder"),
	}
	require.NoError(t, os.Link(filepath.Join(dir, stays[0]), filepath.Join(dir, "linked")))
	running, err := createTemp(dir)
	require.NoError(t, err)
	defer running.Close()
	_, err = running.WriteString("of a run that goes on")
	require.NoError(t, err)
	stays = append(stays, filepath.Base(running.Name()))
	require.NoError(t, Write(filepath.Join(dir, "a.csv"), Rule{}, text("new")))
	for _, name := range stays {
		assert.FileExists(t, filepath.Join(dir, name))
	}
	assert.NoFileExists(t, filepath.Join(dir, ".unseen-00000000deadbeef"))
	assert.NoFileExists(t, filepath.Join(dir, lockName))
}

// A list of outputs that came with a folder of somebody else's has nothing removed
// outside it.
func TestNothingOutsideIsRemoved(t *testing.T) {
	outside := t.TempDir()
	require.NoError(t, Write(filepath.Join(outside, "mine.csv"), Rule{}, text("mine")))
	list := content(t, filepath.Join(outside, outputsName))
	dir := filepath.Join(outside, "theirs")
	require.NoError(t, os.Mkdir(dir, 0o755))
	for _, name := range []string{"../mine.csv", filepath.Join(outside, "mine.csv")} {
		named, err := json.Marshal(name)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, outputsName), []byte(strings.Replace(list, "{", `{"tables": [`+string(named)+`],`, 1)), 0o644))
		s, err := NewSet(dir, Rule{})
		require.NoError(t, err)
		s.Tables = true
		w, err := s.Create("a.csv")
		require.NoError(t, err)
		_, err = io.WriteString(w, "new")
		require.NoError(t, err)
		require.NoError(t, s.Commit())
		assert.Empty(t, s.Left)
		assert.Equal(t, "mine", content(t, filepath.Join(outside, "mine.csv")), name)
		require.NoError(t, os.Remove(filepath.Join(dir, "a.csv")))
	}
}

// Temporary folders of killed processes go with the next one that is made. A
// folder of the user's that is called so, and has tables in it, is none.
func TestSweepOfFolders(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	t.Setenv("TMP", temp)
	require.NoError(t, Write(filepath.Join(temp, "unseen-2025", "survival.csv"), Rule{}, text("mine")))
	require.NoError(t, os.WriteFile(filepath.Join(temp, "unseen-2025", lockName), nil, 0o644)) // killed there
	require.NoError(t, os.MkdirAll(filepath.Join(temp, "unseen-1", "deep"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(temp, "unseen-1", "deep", "sheet"), []byte("rows"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(temp, "unseen-1", markName), nil, 0o644))
	first, removeFirst, err := MkdirTemp()
	require.NoError(t, err)
	second, removeSecond, err := MkdirTemp()
	require.NoError(t, err)
	assert.DirExists(t, first, "its process lives")
	assert.DirExists(t, second)
	removeFirst()
	removeSecond()
	assert.Equal(t, []string{"unseen-2025"}, names(t, temp))
	assert.FileExists(t, filepath.Join(temp, "unseen-2025", "survival.csv"))
}
