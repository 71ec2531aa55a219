package atomicfile

import (
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"os"
)

// file is written under another name, and to be called target.
type file struct {
	temp   *os.File
	sum    hash.Hash
	target string
	// through is the device, pipe or standard stream that target is: it is
	// written to, never replaced.
	through bool
}

func (f *file) Write(b []byte) (int, error) {
	n, err := f.temp.Write(b)
	f.sum.Write(b[:n])
	return n, named(err, f.target)
}

func (f *file) sha256() string { return hex.EncodeToString(f.sum.Sum(nil)) }

// settle writes the file's content to the disk, in the mode it is to have.
func (f *file) settle() error {
	if info, err := os.Stat(f.target); err == nil && !f.through {
		if err := f.temp.Chmod(info.Mode().Perm()); err != nil && !cannot(err) {
			return err
		}
	}
	if err := f.temp.Sync(); err != nil && !cannot(err) {
		return err
	}
	return nil
}

// pour writes the content to what target is.
func (f *file) pour() error {
	if _, err := f.temp.Seek(0, io.SeekStart); err != nil {
		return err
	}
	info, err := os.Stat(f.target)
	if err != nil {
		return err
	}
	out := standard(info)
	if out == nil {
		// Where it has become a file meanwhile, it is not ours to change.
		if info.Mode().IsRegular() {
			return fmt.Errorf("%s has become another file", f.target)
		}
		if out, err = os.OpenFile(f.target, os.O_WRONLY, 0); err != nil {
			return err
		}
		defer out.Close()
	}
	_, err = io.Copy(out, f.temp)
	return err
}

// place gives the file its name, or writes it to what is called so.
func (f *file) place() error {
	if f.through {
		return f.pour()
	}
	err := f.temp.Close()
	if err == nil {
		err = patiently(busyWait, busy, func() error { return os.Rename(f.temp.Name(), f.target) })
	}
	if busy(err) {
		return held{fmt.Errorf("%s cannot be replaced: another program holds it, or it is not to be changed; close it there (%w)", f.target, err)}
	}
	if err != nil {
		return err
	}
	forget(f.temp.Name())
	return nil
}
