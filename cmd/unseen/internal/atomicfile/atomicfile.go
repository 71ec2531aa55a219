// Package atomicfile writes whole files, and holds the one rule of what a
// command may replace: what is named on disk is complete, a failure leaves
// nothing behind, and no file of the user's is lost.
package atomicfile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// Rule is what a set may do to files that are there. The zero value replaces
// only what a command made and nobody changed since.
type Rule struct {
	// Inputs are files that were read: never replaced. Those that are not
	// there are no matter.
	Inputs []string
	// Reads, where not nil, tells why a file laid at a path would be read as
	// data by the study at hand, or "".
	Reads func(path string) string
	// Force replaces files that no command made, or that were changed since.
	Force bool
}

// Refusal is a file that the rule keeps from being written.
type Refusal struct{ message string }

func (r Refusal) Error() string { return r.message }

func refuse(format string, args ...any) error { return Refusal{fmt.Sprintf(format, args...)} }

// Set is a group of files of one folder that appear together.
type Set struct {
	dir     string
	rule    Rule
	made    []string // folders that were not there before, outer ones first
	pending []*file
	names   []string // of the pending files, as they were asked for
	// Tables says that the set is all of the folder's tables: [Set.Commit] removes
	// those of an earlier such set that are not in it, and notes them in Left.
	Tables bool
	Left   Left
}

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

// held is of a file that another program keeps from being replaced.
type held struct{ error }

func (h held) Unwrap() error { return h.error }

// named has an error speak of the file the user named, not of the temporary one.
func named(err error, target string) error {
	var p *os.PathError
	var l *os.LinkError
	switch {
	case errors.As(err, &held{}):
		return err // names it
	case errors.As(err, &p):
		return &os.PathError{Op: "write", Path: target, Err: p.Err}
	case errors.As(err, &l):
		return &os.PathError{Op: "write", Path: target, Err: l.Err}
	}
	return err
}

// NewSet starts a set in dir, which is made if it is missing.
func NewSet(dir string, rule Rule) (*Set, error) {
	s := &Set{dir: dir, rule: rule}
	return s, s.mkdir(dir)
}

// Keep is the rule from now on: which files are read is known only when they
// have been.
func (s *Set) Keep(rule Rule) { s.rule = rule }

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
	return os.MkdirAll(dir, 0o777)
}

// Create opens the file that will be called name, a path inside the set's
// folder. It is closed by Commit or Discard, not by the caller.
func (s *Set) Create(name string) (io.Writer, error) {
	path := filepath.Join(s.dir, name)
	target, through, err := resolve(path)
	if err != nil {
		return nil, err
	}
	dir := filepath.Dir(target)
	if through {
		dir = os.TempDir()
	} else if err := s.mkdir(dir); err != nil {
		return nil, err
	}
	f, err := createTemp(dir)
	if err != nil {
		return nil, named(err, path)
	}
	out := &file{f, sha256.New(), target, through}
	s.pending, s.names = append(s.pending, out), append(s.names, filepath.Clean(name))
	return out, nil
}

// Commit puts every file of the set in place. When one cannot be written to
// the disk in full, or is refused by the rule, none is.
func (s *Set) Commit() error {
	defer s.Discard()
	dirs := map[string]*outputs{}
	defer func() {
		for _, o := range dirs {
			o.unlock()
		}
	}()
	for _, f := range s.pending {
		dir := filepath.Dir(f.target)
		if !f.through && dirs[dir] == nil {
			o, err := openOutputs(dir)
			if err != nil {
				return err
			}
			dirs[dir] = o
		}
		if err := s.rule.allows(f, dirs[dir]); err != nil {
			return err
		}
	}
	for _, f := range s.pending {
		if err := f.settle(); err != nil {
			return named(err, f.target)
		}
	}
	// What is about to be put in place is noted before: killed in between,
	// what is then there is still known to be ours.
	for dir, o := range dirs {
		if err := o.write(); err != nil {
			return named(err, filepath.Join(dir, outputsName))
		}
	}
	for _, f := range s.pending {
		if err := f.place(); err != nil {
			return named(err, f.target)
		}
	}
	if o := dirs[filepath.Clean(s.dir)]; s.Tables && o != nil {
		if err := s.clear(o); err != nil {
			return err
		}
	}
	s.made = nil
	for dir := range dirs {
		if err := syncDir(dir); err != nil {
			return named(err, dir)
		}
	}
	return nil
}

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

// Discard removes what was written and not committed. After Commit it does
// nothing, so it can be deferred.
func (s *Set) Discard() {
	for _, f := range s.pending {
		f.temp.Close()
		if temporary(f.temp.Name()) {
			os.Remove(f.temp.Name())
			forget(f.temp.Name())
		}
	}
	for _, d := range slices.Backward(s.made) {
		os.Remove(d) // fails, rightly, when something else is in it
	}
	s.pending, s.made = nil, nil
}

// Write writes one file with the given function.
func Write(path string, rule Rule, write func(io.Writer) error) error {
	target, _, err := resolve(path)
	if err != nil {
		return err
	}
	s, err := NewSet(filepath.Dir(target), rule)
	if err != nil {
		return err
	}
	defer s.Discard()
	w, err := s.Create(filepath.Base(target))
	if err != nil {
		return err
	}
	if err := write(w); err != nil {
		return err
	}
	return s.Commit()
}
