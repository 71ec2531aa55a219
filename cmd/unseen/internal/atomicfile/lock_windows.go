package atomicfile

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

const noFollow = 0

// tryLock locks a file without waiting; false where another process holds it.
func tryLock(f *os.File) (bool, error) {
	err := windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &windows.Overlapped{})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return false, nil
	}
	return err == nil, err
}

// leave lets go of a lock. A file that is open cannot be removed here, and one that
// somebody else has opened meanwhile stays for them to remove.
func leave(f *os.File, path string) {
	f.Close()
	os.Remove(path)
}

// busy tells whether another program holds a file.
func busy(err error) bool {
	return errors.Is(err, windows.ERROR_SHARING_VIOLATION) || errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_ACCESS_DENIED) ||
		errors.Is(err, windows.ERROR_DELETE_PENDING)
}

// cannot tells whether a file system refuses what it does not know at all.
func cannot(err error) bool {
	return errors.Is(err, windows.ERROR_INVALID_FUNCTION) || errors.Is(err, windows.ERROR_NOT_SUPPORTED)
}

func syncDir(string) error { return nil }
