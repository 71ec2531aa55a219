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
	open map[string]*os.File // by its path; nil of a folder
}{open: map[string]*os.File{}}

func remember(path string, f *os.File) {
	unfinished.Lock()
	defer unfinished.Unlock()
	unfinished.open[path] = f
}

func forget(path string) {
	unfinished.Lock()
	defer unfinished.Unlock()
	delete(unfinished.open, path)
}

func temporary(path string) bool {
	unfinished.Lock()
	defer unfinished.Unlock()
	_, is := unfinished.open[path]
	return is
}

// Abandon removes every temporary file and folder, before the process ends
// without returning.
func Abandon() {
	unfinished.Lock()
	defer unfinished.Unlock()
	for path, f := range unfinished.open {
		f.Close() // Windows removes no file that is open
		os.RemoveAll(path)
	}
}

// MkdirTemp makes a temporary folder; remove removes it.
func MkdirTemp() (dir string, remove func(), err error) {
	if dir, err = os.MkdirTemp("", "unseen-*"); err != nil {
		return "", nil, err
	}
	remember(dir, nil)
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
			remember(path, f)
		}
		return f, err
	}
}
