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
		var f *os.File
		err := patiently(busyWait, busy, func() (err error) {
			f, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o666)
			return err
		})
		if err != nil {
			return nil, named(err, dir)
		}
		got, err := tryLock(f)
		if err == nil && got && stillThere(f, path) {
			return func() { leave(f, path) }, nil
		}
		f.Close()
		if err != nil {
			return nil, noLock(dir, err)
		}
		if time.Since(start) > lockWait {
			return nil, fmt.Errorf("another unseen has been writing into %s for %v; wait for its end", dir, lockWait)
		}
	}
}

// noLock is what is said where a folder cannot be locked, as on some shares.
func noLock(dir string, err error) error {
	return fmt.Errorf("the folder %s cannot be locked (%w), so two programs could write there at once; is it on a network share? Write into a folder of this computer, and copy from there", dir, err)
}

// busyWait is how long a file may be held by another program, one that looks for
// viruses, or makes copies.
const busyWait = 3 * time.Second

// patiently does what may fail while another program holds a file, until it does
// not, for a while.
func patiently(wait time.Duration, busy func(error) bool, f func() error) error {
	for start := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		err := f()
		if err == nil || !busy(err) || time.Since(start) > wait {
			return err
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
