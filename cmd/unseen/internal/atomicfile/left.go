package atomicfile

import (
	"errors"
	"io/fs"
	"os"
)

// Left are the tables of earlier sets that stood in the folder and are not in this
// one: numbers of another run beside those of this one.
type Left struct {
	// Removed were as a command had made them.
	Removed []string
	// Kept were changed since, are read, or could not be removed.
	Kept []string
}

func gone(path string) bool {
	_, err := os.Lstat(path)
	return errors.Is(err, fs.ErrNotExist)
}

// mayRemove tells whether a file is as a command made it, and is not read.
func (r Rule) mayRemove(path string, o *outputs) bool {
	if info, err := os.Lstat(path); err != nil || !info.Mode().IsRegular() {
		return false
	}
	r.Force, r.Reads = false, nil
	made, err := r.permits(path, false, o)
	return err == nil && made != ""
}
