// Package atomicfile writes whole files, and holds the one rule of what a
// command may replace: what is named on disk is complete, a failure leaves
// nothing behind, and no file of the user's is lost.
package atomicfile

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"

	"example.org/unseen/cmd/unseen/internal/harmless"
)

// Set is a group of files of one folder that appear together.
type Set struct {
	dir     string
	rule    Rule
	made    []string // folders that were not there before, outer ones first
	pending []*file
	names   []string // of the pending files, as they were asked for
	remove  []func() // temporary folders
	// Tables says that the set is all of the folder's tables: [Set.Commit] removes
	// those of an earlier such set that are not in it, and notes them in Left.
	Tables bool
	Left   Left
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
		var remove func()
		if dir, remove, err = MkdirTemp(); err != nil {
			return nil, err
		}
		s.remove = append(s.remove, remove)
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
			path := filepath.Join(dir, outputsName)
			return ofAnother(named(err, path), path)
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
	for _, remove := range s.remove {
		remove()
	}
	for _, d := range slices.Backward(s.made) {
		os.Remove(d) // fails, rightly, when something else is in it
	}
	s.pending, s.made, s.remove = nil, nil, nil
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

// Replace writes a file that the caller knows to be its own, whole or not at
// all, and on the disk before it has its name.
func Replace(path string, write func(io.Writer) error) error {
	f, err := createTemp(filepath.Dir(path))
	if err != nil {
		return named(err, path)
	}
	out := &file{f, sha256.New(), path, false}
	s := &Set{pending: []*file{out}}
	defer s.Discard()
	if err := write(out); err != nil {
		return err
	}
	if err := out.settle(); err != nil {
		return named(err, path)
	}
	if err := out.place(); err != nil {
		return named(err, path)
	}
	return syncDir(filepath.Dir(path))
}

func replace(path string, text []byte) error {
	return Replace(path, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
}

// write puts the list in place, whole.
func (o *outputs) write() error {
	text, err := json.MarshalIndent(o, "", "  ")
	if err != nil {
		return err
	}
	return replace(filepath.Join(o.dir, outputsName), []byte(harmless.Escape(string(text))+"\n"))
}

// clear removes the tables that earlier sets left in the folder and that nobody
// changed since. What is put in place stands by then: killed in between, there is
// too much, never too little.
func (s *Set) clear(o *outputs) error {
	tables := slices.Clone(s.names)
	for _, name := range o.Tables {
		if slices.Contains(s.names, name) || name != filepath.Base(name) { // another folder's, as nobody notes it here
			continue
		}
		switch path := filepath.Join(o.dir, name); {
		case gone(path):
			delete(o.Files, name)
		case s.rule.mayRemove(path, o) && os.Remove(path) == nil:
			delete(o.Files, name)
			s.Left.Removed = append(s.Left.Removed, name)
		default:
			tables = append(tables, name)
			s.Left.Kept = append(s.Left.Kept, name)
		}
	}
	slices.Sort(tables)
	o.Tables = tables
	return o.write()
}
