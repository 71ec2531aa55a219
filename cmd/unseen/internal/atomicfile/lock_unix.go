//go:build unix

package atomicfile

import (
	"errors"
	"os"
	"syscall"
)

// tryLock locks a file without waiting; false where another process holds it.
func tryLock(f *os.File) (bool, error) {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) || errors.Is(err, syscall.EINTR) {
		return false, nil
	}
	return err == nil, err
}

// syncDir writes a folder's names to the disk.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return nil // a folder that can be written to and not read
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, syscall.ENOTSUP) {
		return err
	}
	return nil
}
