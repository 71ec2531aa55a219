package atomicfile

import (
	"fmt"
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
// is called. The lock ends with the process, however that ends. The temporary files
// that killed processes left in the folder go.
func Lock(dir string) (unlock func(), err error) {
	path := filepath.Join(dir, lockName)
	for start := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		var f *os.File
		err := patiently(busyWait, busy, func() (err error) {
			f, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE|noFollow, 0o666)
			return err
		})
		if err != nil {
			return nil, ofAnother(named(err, dir), path)
		}
		got, err := tryLock(f)
		if err == nil && got && stillThere(f, path) {
			sweepOnce(dir)
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

// ofAnother is an error of writing into a folder, where that is as a file of ours
// there is somebody else's.
func ofAnother(err error, path string) error {
	if _, is := os.Lstat(path); err != nil && is == nil {
		return fmt.Errorf("%s is in the way, as where another user wrote into that folder: write into one of your own (%w)", path, err)
	}
	return err
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
