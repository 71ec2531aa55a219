package line

import (
	"errors"
	"io/fs"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
)

// What Windows says of a pattern that finds nothing is that the name is none.
func TestMissing(t *testing.T) {
	invalid := &os.PathError{Op: "CreateFile", Path: "*.none", Err: errors.New("The filename, directory name, or volume label syntax is incorrect.")}
	assert.True(t, Missing("*.none", invalid))
	assert.True(t, Missing("a?.csv", invalid))
	assert.True(t, Missing("a.csv", &os.PathError{Err: fs.ErrNotExist}))
	assert.False(t, Missing("a.csv", invalid))
	assert.False(t, Missing("a.csv", &os.PathError{Err: fs.ErrPermission}))
	assert.False(t, Missing("*.none", nil))
}
