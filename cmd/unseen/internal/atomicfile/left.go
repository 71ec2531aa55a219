package atomicfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// Left are the tables of earlier sets that stood in the folder and are not in this
// one: numbers of another run beside those of this one.
type Left struct {
	// Removed were as a command had made them.
	Removed []string
	// Kept were changed since, are read, or could not be removed.
	Kept []string
}

// clear removes the tables that earlier sets left in the folder and that nobody
// changed since. What is put in place stands by then: killed in between, there is
// too much, never too little.
func (s *Set) clear(o *outputs) error {
	tables := slices.Clone(s.names)
	for _, name := range o.Tables {
		if slices.Contains(s.names, name) {
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

func gone(path string) bool {
	_, err := os.Lstat(path)
	return errors.Is(err, fs.ErrNotExist)
}

// mayRemove tells whether a file is as a command made it, and is not read.
func (r Rule) mayRemove(path string, o *outputs) bool {
	if info, err := os.Lstat(path); err != nil || !info.Mode().IsRegular() {
		return false
	}
	r.Force, r.Reads = false, nil
	made, err := r.permits(path, false, o)
	return err == nil && made != ""
}
