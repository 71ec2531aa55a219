package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

const (
	lockName = ".unseen-lock"
	// lockWait is how long another process may hold a folder: it writes a few
	// files.
	lockWait = time.Minute
)

// Lock keeps other processes of unseen from writing into a folder until unlock
// is called. The lock ends with the process, however that ends.
func Lock(dir string) (unlock func(), err error) {
	path := filepath.Join(dir, lockName)
	for start := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o666)
		if err != nil {
			return nil, named(err, dir)
		}
		got, err := tryLock(f)
		if err == nil && got && stillThere(f, path) {
			return func() { os.Remove(path); f.Close() }, nil
		}
		f.Close()
		if err != nil {
			return nil, fmt.Errorf("%s cannot be locked: %w", path, err)
		}
		if time.Since(start) > lockWait {
			return nil, fmt.Errorf("another unseen has been writing into %s for %v; wait for its end", dir, lockWait)
		}
	}
}

// stillThere tells whether a locked file still has its name: who held it before
// may have removed it.
func stillThere(f *os.File, path string) bool {
	a, errA := f.Stat()
	b, errB := os.Stat(path)
	return !errors.Is(errB, fs.ErrNotExist) && errA == nil && errB == nil && os.SameFile(a, b)
}
