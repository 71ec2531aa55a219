// Package atomicfile writes whole files: what is named on disk is complete, and
// a failure leaves nothing behind.
package atomicfile

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// Set is a group of files of one folder that appear together.
type Set struct {
	dir     string
	made    []string // folders that were not there before, outer ones first
	pending []*file
	guarded []os.FileInfo
}

type file struct {
	*os.File
	name string
}

// NewSet starts a set in dir, which is made if it is missing.
func NewSet(dir string) (*Set, error) {
	s := &Set{dir: dir}
	return s, s.mkdir(dir)
}

func (s *Set) mkdir(dir string) error {
	var missing []string
	for d := filepath.Clean(dir); ; d = filepath.Dir(d) {
		if _, err := os.Stat(d); !errors.Is(err, os.ErrNotExist) {
			break
		}
		missing = append(missing, d)
	}
	slices.Reverse(missing)
	s.made = append(s.made, missing...)
	return os.MkdirAll(dir, 0o755)
}

// Guard names files that Commit must not replace; those that are not there are
// no matter.
func (s *Set) Guard(paths ...string) {
	for _, p := range paths {
		if info, err := os.Stat(p); err == nil {
			s.guarded = append(s.guarded, info)
		}
	}
}

// Create opens the file that will be called name, a path inside the set's
// folder. It is closed by Commit or Discard, not by the caller.
func (s *Set) Create(name string) (io.Writer, error) {
	path := filepath.Join(s.dir, name)
	if err := s.mkdir(filepath.Dir(path)); err != nil {
		return nil, err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".unseen-*")
	if err != nil {
		return nil, err
	}
	s.pending = append(s.pending, &file{f, path})
	return f, nil
}

// Commit puts every file of the set in place. When one cannot be written to
// the disk in full, or would replace a guarded one, none is.
func (s *Set) Commit() error {
	for _, f := range s.pending {
		old, err := os.Stat(f.name)
		if err == nil && slices.ContainsFunc(s.guarded, func(g os.FileInfo) bool { return os.SameFile(old, g) }) {
			s.Discard()
			return fmt.Errorf("%s is one of the files that were read; choose another folder", f.name)
		}
	}
	for _, f := range s.pending {
		if err := errors.Join(f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
			s.Discard()
			return err
		}
	}
	for i, f := range s.pending {
		if err := os.Rename(f.Name(), f.name); err != nil {
			s.pending = s.pending[i:]
			s.Discard()
			return err
		}
	}
	s.pending, s.made = nil, nil
	return nil
}

// Discard removes what was written and not committed. After Commit it does
// nothing, so it can be deferred.
func (s *Set) Discard() {
	for _, f := range s.pending {
		f.Close()
		os.Remove(f.Name())
	}
	for _, d := range slices.Backward(s.made) {
		os.Remove(d) // fails, rightly, when something else is in it
	}
	s.pending, s.made = nil, nil
}

// Write writes one file with the given function.
func Write(path string, write func(io.Writer) error) error {
	s, err := NewSet(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer s.Discard()
	w, err := s.Create(filepath.Base(path))
	if err != nil {
		return err
	}
	if err := write(w); err != nil {
		return err
	}
	return s.Commit()
}
