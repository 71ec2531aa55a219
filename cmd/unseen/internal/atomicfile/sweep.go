package atomicfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"sync"
)

// Names of what a process that was killed leaves behind.
var (
	tempFile   = regexp.MustCompile(`^\.unseen-[0-9a-f]{16}$`)
	tempFolder = regexp.MustCompile(`^unseen-[0-9]+$`)
)

// swept are the folders in which this process has looked.
var swept sync.Map

// sweepOnce removes from a folder whose lock is held the temporary files of
// processes that were killed: nobody else gives one its name meanwhile.
func sweepOnce(dir string) {
	if _, before := swept.LoadOrStore(dir, true); !before {
		sweep(dir, tempFile, func(path string) {
			if abandoned(path) {
				os.Remove(path)
			}
		})
	}
}

// sweep does what it can for what has such a name in a folder.
func sweep(dir string, name *regexp.Regexp, remove func(path string)) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if name.MatchString(e.Name()) {
			remove(filepath.Join(dir, e.Name()))
		}
	}
}

// abandoned tells of a file that its writer locks whether that has ended. What is
// no file, and what cannot be opened or locked, is somebody's.
func abandoned(path string) bool {
	info, err := os.Lstat(path)
	if err != nil || !info.Mode().IsRegular() {
		return false
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return false
	}
	defer f.Close()
	got, err := tryLock(f)
	return err == nil && got && stillThere(f, path)
}

// stillThere tells whether a locked file still has its name: who held it before
// may have removed it.
func stillThere(f *os.File, path string) bool {
	a, errA := f.Stat()
	b, errB := os.Stat(path)
	return !errors.Is(errB, fs.ErrNotExist) && errA == nil && errB == nil && os.SameFile(a, b)
}
