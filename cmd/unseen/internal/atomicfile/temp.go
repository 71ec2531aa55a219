package atomicfile

import (
	"cmp"
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
// without returning. Whoever would make another waits for that end.
func Abandon() {
	unfinished.Lock()
	for path, f := range unfinished.open {
		f.Close() // Windows removes no file that is open
		os.RemoveAll(path)
	}
}

// markName is of a file in each temporary folder, locked while the process that
// made the folder lives.
const markName = ".unseen-temporary"

// MkdirTemp makes a temporary folder; remove removes it. Those of processes that
// were killed go.
func MkdirTemp() (dir string, remove func(), err error) {
	sweep(os.TempDir(), tempFolder, func(dir string) {
		if abandoned(filepath.Join(dir, markName)) {
			os.RemoveAll(dir)
		}
	})
	unfinished.Lock()
	defer unfinished.Unlock()
	if dir, err = os.MkdirTemp("", "unseen-*"); err != nil {
		return "", nil, fmt.Errorf("no room for temporary files: %w", err)
	}
	mark, ok, err := createLocked(filepath.Join(dir, markName))
	if err != nil || !ok {
		os.RemoveAll(dir)
		return "", nil, cmp.Or(err, fmt.Errorf("no room for temporary files: %s is removed by another program", dir))
	}
	unfinished.open[dir] = mark
	return dir, func() { mark.Close(); os.RemoveAll(dir); forget(dir) }, nil
}

// createTemp makes a temporary file in dir, in the mode that the umask leaves
// to a new file, which [os.CreateTemp] does not. It is locked until it is closed.
func createTemp(dir string) (*os.File, error) {
	for {
		f, ok, err := createRemembered(filepath.Join(dir, fmt.Sprintf(".unseen-%016x", rand.Uint64())))
		if err != nil && !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
		if ok {
			return f, nil
		}
	}
}

func createRemembered(path string) (f *os.File, ok bool, err error) {
	unfinished.Lock()
	defer unfinished.Unlock()
	if f, ok, err = createLocked(path); ok {
		unfinished.open[path] = f
	}
	return f, ok, err
}

// createLocked makes a file and locks it; not ok where a sweep came in between.
// Where nothing can be locked nothing is swept.
func createLocked(path string) (f *os.File, ok bool, err error) {
	if f, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666); err != nil {
		return nil, false, err
	}
	if got, err := tryLock(f); err == nil && (!got || !stillThere(f, path)) {
		f.Close()
		return nil, false, nil
	}
	return f, true, nil
}
