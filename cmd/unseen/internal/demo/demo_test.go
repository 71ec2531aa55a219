package demo

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
)

func TestWriteWritesAll(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	require.NoError(t, Write(dir, atomicfile.Rule{}))
	var names []string
	require.NoError(t, fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if !d.IsDir() {
			names = append(names, name)
		}
		return err
	}))
	assert.Equal(t, []string{".unseen-outputs.json", "arrays/.unseen-outputs.json", "arrays/alder-ford.csv.gz", "arrays/lower-river.csv.gz", "fish.csv", "study.toml", "truth.json"}, names)
}

func TestWriteOverwritesNothing(t *testing.T) {
	dir := t.TempDir()
	mine := filepath.Join(dir, "study.toml")
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o644))
	require.ErrorContains(t, Write(dir, atomicfile.Rule{}), "study.toml is already there")
	b, err := os.ReadFile(mine)
	require.NoError(t, err)
	assert.Equal(t, "mine", string(b))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1)
}
