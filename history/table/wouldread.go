package table

import (
	"path/filepath"
	"strings"

	"example.org/unseen/history/study"
)

// WouldRead tells which of the files, globs and folders that a study names for
// its sightings takes in a file at path, were one there; "" where none does.
func WouldRead(st *study.Study, path string) string {
	if st.Check() != nil {
		return ""
	}
	path = realPath(path)
	for _, group := range st.Sightings {
		if group == nil || len(group.Written) != len(group.Files) {
			continue
		}
		for i, pattern := range group.Files {
			if matchedBy(realPattern(pattern), path) {
				return group.Written[i]
			}
		}
	}
	return ""
}

// matchedBy tells whether a pattern takes in a file: it names it, or a folder
// over it of whose tables all are read.
func matchedBy(pattern, path string) bool {
	for p := path; ; p = filepath.Dir(p) {
		if match, err := Match(pattern, p); study.FoldName(p) == study.FoldName(pattern) || match && err == nil {
			return p == path || IsTable(path) && !strings.HasPrefix(filepath.Base(path), ".")
		}
		if p == filepath.Dir(p) {
			return false
		}
	}
}

// realPath is an absolute path without links, as far as it is there.
func realPath(path string) string {
	abs, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	rest := ""
	for p := abs; ; p = filepath.Dir(p) {
		if real, err := filepath.EvalSymlinks(p); err == nil {
			return filepath.Join(real, rest)
		}
		if p == filepath.Dir(p) {
			return abs
		}
		rest = filepath.Join(filepath.Base(p), rest)
	}
}

// realPattern is realPath of what stands before the first sign of a glob.
func realPattern(pattern string) string {
	i := strings.IndexAny(pattern, "*?[")
	if i < 0 {
		return realPath(pattern)
	}
	dir, _ := filepath.Split(pattern[:i])
	return realPath(dir) + string(filepath.Separator) + pattern[len(dir):]
}
