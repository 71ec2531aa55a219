package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/history/study"
)

// arrayFile is one file of the sightings.
type arrayFile struct {
	path string
	name string // as messages and results show it
	size int64
}

func isWorkbook(path string) bool { return strings.HasSuffix(strings.ToLower(path), ".xlsx") }

var tableEndings = []string{".csv", ".tsv", ".txt", ".csv.gz", ".tsv.gz", ".txt.gz", ".csv.zst", ".tsv.zst", ".txt.zst", ".xlsx"}

func isTableFile(name string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(tableEndings, func(e string) bool { return strings.HasSuffix(name, e) })
}

// expand finds the array files a study names: files, globs and whole folders.
// They come in the order of the study, those of a glob or folder by name, each
// once. passed are files of folders that are no tables, empty are folders that a
// glob matches and that hold none.
func expand(st *study.Study) (files []arrayFile, passed, empty []string, err error) {
	seen := map[string]bool{}
	dir := filepath.Dir(st.Path)
	tables := 0 // met so far, also those met before
	add := func(path string) error {
		tables++
		info, err := os.Stat(path)
		if err != nil {
			return fmt.Errorf("the array file cannot be read: %w", err)
		}
		if clean := filepath.Clean(path); !seen[clean] && !info.IsDir() {
			seen[clean] = true
			files = append(files, arrayFile{path: path, name: shownName(dir, path), size: info.Size()})
		}
		return nil
	}
	for i, pattern := range st.Sightings.Files {
		written := st.Sightings.Written[i]
		fail := func(format string, args ...any) error {
			return fmt.Errorf("%v: [sightings] files: %s", st.Sightings.FilesPos, fmt.Sprintf(format, args...))
		}
		matches := []string{pattern}
		if _, err := os.Stat(pattern); err != nil && strings.ContainsAny(written, "*?[") {
			if matches, err = glob(pattern); errors.Is(err, filepath.ErrBadPattern) {
				return nil, nil, nil, fail("%q is no pattern of file names", written)
			} else if err != nil {
				return nil, nil, nil, fail("%q: %v", written, err)
			}
			if len(matches) == 0 {
				return nil, nil, nil, fail("%q matches no file", written)
			}
		}
		found, folders := tables, 0
		for _, m := range matches {
			info, err := os.Stat(m)
			if err != nil {
				return nil, nil, nil, fail("%q cannot be read: %v", written, err)
			}
			if !info.IsDir() {
				if err := add(m); err != nil {
					return nil, nil, nil, err
				}
				continue
			}
			before := tables
			folders++
			// The separator has a link to a folder followed.
			err = filepath.WalkDir(m+string(filepath.Separator), func(path string, d fs.DirEntry, err error) error {
				switch {
				case err != nil:
					return fail("the folder %q cannot be read: %v", written, err)
				case d.IsDir() || strings.HasPrefix(d.Name(), "."):
				case !isTableFile(path):
					passed = append(passed, shownName(dir, path))
				default:
					return add(path)
				}
				return nil
			})
			if err != nil {
				return nil, nil, nil, err
			}
			if tables == before && len(matches) > 1 {
				empty = append(empty, shownName(dir, m))
			}
		}
		if tables == found && folders > 0 {
			return nil, nil, nil, fail("the folder %q holds no table (%s)", written, strings.Join(tableEndings, " "))
		}
	}
	return files, passed, empty, nil
}

// shownName is a file's name from the study's folder, with slashes, so that
// results do not depend on where the folder stands.
func shownName(dir, path string) string {
	if rel, err := filepath.Rel(dir, path); err == nil && !strings.HasPrefix(rel, "..") {
		return filepath.ToSlash(rel)
	}
	return filepath.ToSlash(path)
}

// reversedFile tells whether a file's codes are bit-reversed.
func reversedFile(conf *study.SightingFiles, path string) bool {
	if conf.BitReversed {
		return true
	}
	for _, p := range conf.BitReversedFiles {
		if match, err := filepath.Match(p, path); err == nil && match || filepath.Clean(p) == filepath.Clean(path) ||
			strings.HasPrefix(filepath.Clean(path), filepath.Clean(p)+string(filepath.Separator)) {
			return true
		}
	}
	return false
}

// glob is [filepath.Glob] that says what it could not look into, where that one
// takes a folder without permission for an empty one. Hidden files are left out,
// as in a whole folder.
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
			if match, _ := filepath.Match(name, e.Name()); match && !hidden {
				out = append(out, filepath.Join(d, e.Name()))
			}
		}
	}
	return out, nil
}
