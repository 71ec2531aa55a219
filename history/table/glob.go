package table

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.org/unseen/history/study"
)

// Match is [filepath.Match] to which names are one that are on some systems only:
// a pattern finds the same files on each.
func Match(pattern, name string) (bool, error) {
	return filepath.Match(study.FoldName(pattern), study.FoldName(name))
}

// glob is [filepath.Glob] by [Match] that says what it could not look into, where
// that one takes a folder without permission for an empty one. Hidden files are
// left out, as in a whole folder.
func glob(pattern string) ([]string, error) {
	dir, name := filepath.Split(pattern)
	dir = filepath.Clean(dir)
	dirs := []string{dir}
	if strings.ContainsAny(dir, `*?[`) && dir != pattern {
		var err error
		if dirs, err = glob(dir); err != nil {
			return nil, err
		}
	}
	if _, err := filepath.Match(name, ""); err != nil {
		return nil, err
	}
	var out []string
	for _, d := range dirs {
		info, err := os.Stat(d)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
		if err != nil || !info.IsDir() {
			continue
		}
		entries, err := os.ReadDir(d)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			hidden := strings.HasPrefix(e.Name(), ".") && !strings.HasPrefix(name, ".")
			if match, _ := Match(name, e.Name()); match && !hidden {
				out = append(out, filepath.Join(d, e.Name()))
			}
		}
	}
	return out, nil
}
