package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
)

// unfinished are the temporary files and folders that are there, for an end at
// once.
var unfinished = struct {
	sync.Mutex
	paths map[string]bool
}{paths: map[string]bool{}}

func remember(path string) {
	unfinished.Lock()
	defer unfinished.Unlock()
	unfinished.paths[path] = true
}

func forget(path string) {
	unfinished.Lock()
	defer unfinished.Unlock()
	delete(unfinished.paths, path)
}

func temporary(path string) bool {
	unfinished.Lock()
	defer unfinished.Unlock()
	return unfinished.paths[path]
}

// Abandon removes every temporary file and folder, before the process ends
// without returning.
func Abandon() {
	unfinished.Lock()
	defer unfinished.Unlock()
	for path := range unfinished.paths {
		os.RemoveAll(path)
	}
}

// MkdirTemp makes a temporary folder; remove removes it.
func MkdirTemp() (dir string, remove func(), err error) {
	if dir, err = os.MkdirTemp("", "unseen-*"); err != nil {
		return "", nil, err
	}
	remember(dir)
	return dir, func() { os.RemoveAll(dir); forget(dir) }, nil
}

// createTemp makes a temporary file in dir, in the mode that the umask leaves
// to a new file, which [os.CreateTemp] does not.
func createTemp(dir string) (*os.File, error) {
	for {
		path := filepath.Join(dir, fmt.Sprintf(".unseen-%016x", rand.Uint64()))
		f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err == nil {
			remember(path)
		}
		return f, err
	}
}
