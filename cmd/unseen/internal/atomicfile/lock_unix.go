//go:build unix

package atomicfile

import (
	"errors"
	"os"
	"syscall"
)

// noFollow keeps a link from being opened, which whoever may write into a folder
// can make.
const noFollow = syscall.O_NOFOLLOW

// tryLock locks a file without waiting; false where another process holds it.
func tryLock(f *os.File) (bool, error) {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) || errors.Is(err, syscall.EINTR) {
		return false, nil
	}
	return err == nil, err
}

// leave lets go of a lock. Its file goes first: who waits for it sees that it did.
func leave(f *os.File, path string) {
	os.Remove(path)
	f.Close()
}

// busy: no other program keeps a file from being renamed here.
func busy(error) bool { return false }

// cannot tells whether a file system refuses what it does not know at all, as
// shares and sticks do: to write through to the disk, or to keep a mode. It is of
// a file that is our own, so it is no matter of permission.
func cannot(err error) bool {
	return errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) || errors.Is(err, syscall.EOPNOTSUPP) ||
		errors.Is(err, syscall.ENOSYS) || errors.Is(err, syscall.EPERM)
}

// syncDir writes a folder's names to the disk.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return nil // a folder that can be written to and not read
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !cannot(err) {
		return err
	}
	return nil
}
