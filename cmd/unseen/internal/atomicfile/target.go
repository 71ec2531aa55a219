package atomicfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// resolve finds what a path is the name of: the file that a link leads to, and
// whether it is to be written through, being a device, a pipe or a standard
// stream.
func resolve(path string) (target string, through bool, err error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if l, err := os.Lstat(path); err == nil && l.Mode()&fs.ModeSymlink != 0 {
			return "", false, refuse("%s is a link to a file that is not there; choose another name", path)
		}
		if os.IsPathSeparator(path[len(path)-1]) {
			return "", false, refuse("%s is the name of a folder; name a file", path)
		}
		return path, false, nil
	case err != nil:
		return "", false, err
	case info.IsDir():
		return path, false, nil
	case !info.Mode().IsRegular() || standard(info) != nil:
		return path, true, nil
	}
	target, err = filepath.EvalSymlinks(path)
	if err != nil {
		return "", false, err
	}
	if l, err := os.Lstat(path); err == nil && l.Mode()&fs.ModeSymlink == 0 {
		target = path // as the user named it
	}
	return target, false, nil
}

// standard is the standard stream that a file is; nil where it is none.
func standard(info fs.FileInfo) *os.File {
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		if s, err := f.Stat(); err == nil && os.SameFile(info, s) {
			return f
		}
	}
	return nil
}
