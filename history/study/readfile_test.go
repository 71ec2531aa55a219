package study

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What has no end, or is no document, is refused and not read.
func TestReadFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "study.toml")
	require.NoError(t, os.WriteFile(path, []byte("title"), 0o644))
	data, err := ReadFile(path, 5)
	require.NoError(t, err)
	assert.Equal(t, "title", string(data))
	_, err = ReadFile(path, 4)
	assert.ErrorContains(t, err, "has 5 bytes; such a document has at most 4")
	_, err = ReadFile(filepath.Dir(path), 4)
	assert.ErrorContains(t, err, "is a folder")
	_, err = Load(os.DevNull)
	assert.ErrorContains(t, err, "is a device or a pipe and no file")
	require.NoError(t, os.Truncate(path, LargestStudy+1))
	_, err = Load(path)
	assert.ErrorContains(t, err, "has 67108865 bytes")
}
