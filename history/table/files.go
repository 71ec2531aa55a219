package table

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

// File is one file of the sightings.
type File struct {
	Path string
	Name string // as messages and results show it
	Size int64
	// Group is its group of files among those of the study, and Reading how it
	// is read. Wants tells a header of the columns wanted, where a workbook has
	// several sheets; nil takes the first.
	Group   int
	Reading study.Reading
	Wants   func(header []string) bool
}

// Endings are those of the names of files that may be tables.
var Endings = []string{".csv", ".tsv", ".txt", ".csv.gz", ".tsv.gz", ".txt.gz", ".csv.zst", ".tsv.zst", ".txt.zst", ".xlsx"}

// IsTable tells by its name whether a file may be a table.
func IsTable(name string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(Endings, func(e string) bool { return strings.HasSuffix(name, e) })
}

// Files finds the array files a study names: files, globs and whole folders.
// They come in the order of the study, those of a glob or folder by name, each
// once; one that two groups name is a fault, but for two sheets of a workbook.
// passed are files of folders that are no tables, empty are folders that a glob
// matches and that hold none.
func Files(st *study.Study) (files []File, passed, empty []string, err error) {
	taken := map[fileSheet]int{}
	for i, group := range st.Sightings {
		found, p, e, err := groupFiles(filepath.Dir(st.Path), group)
		if err != nil {
			return nil, nil, nil, err
		}
		for _, f := range found {
			at := fileSheet{filepath.Clean(f.Path), group.Sheet}
			if k, twice := taken[at]; twice {
				return nil, nil, nil, fmt.Errorf("%v: %s files: %s is among the files on line %d too; name it in one of the two", group.FilesPos, group.Title, f.Name, st.Sightings[k].FilesPos.Line)
			}
			taken[at] = i
			if f.Group, f.Reading = i, group.Reading; group.Sheet != "" {
				f.Name += ", sheet " + group.Sheet
			}
			files = append(files, f)
		}
		passed, empty = append(passed, p...), append(empty, e...)
	}
	return files, passed, empty, nil
}

// fileSheet is a file, or a sheet of it.
type fileSheet struct{ path, sheet string }

// Input is the name of the file itself, without the sheet.
func (f *File) Input() string { return strings.TrimSuffix(f.Name, ", sheet "+f.Reading.Sheet) }

// groupFiles finds the files of a group in the study's folder.
func groupFiles(dir string, group *study.SightingFiles) (files []File, passed, empty []string, err error) {
	seen := map[string]bool{}
	tables := 0 // met so far, also those met before
	add := func(path string) error {
		tables++
		info, err := os.Stat(path)
		if err != nil {
			return fmt.Errorf("the array file cannot be read: %w", err)
		}
		if clean := filepath.Clean(path); !seen[clean] && !info.IsDir() {
			seen[clean] = true
			files = append(files, File{Path: path, Name: ShownName(dir, path), Size: info.Size()})
		}
		return nil
	}
	for i, pattern := range group.Files {
		written := group.Written[i]
		fail := func(format string, args ...any) error {
			return fmt.Errorf("%v: %s files: %s", group.FilesPos, group.Title, fmt.Sprintf(format, args...))
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
			before, root := tables, m
			if info.IsDir() {
				folders++
				root += string(filepath.Separator) // has a link to a folder followed
			}
			err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
				switch {
				case err != nil:
					return fail("the folder %q cannot be read: %v", written, err)
				case !info.IsDir(): // named by itself, whatever it is called
					return add(path)
				case d.IsDir() || strings.HasPrefix(d.Name(), "."):
				case !IsTable(path):
					passed = append(passed, ShownName(dir, path))
				default:
					return add(path)
				}
				return nil
			})
			if err != nil {
				return nil, nil, nil, err
			}
			if info.IsDir() && tables == before && len(matches) > 1 {
				empty = append(empty, ShownName(dir, m))
			}
		}
		if tables == found && folders > 0 {
			return nil, nil, nil, fail("the folder %q holds no table (%s)", written, strings.Join(Endings, " "))
		}
	}
	return files, passed, empty, nil
}

// ShownName is a file's name from the study's folder, with slashes, so that
// results do not depend on where the folder stands.
func ShownName(dir, path string) string {
	if rel, err := filepath.Rel(dir, path); err == nil && !strings.HasPrefix(rel, "..") {
		return filepath.ToSlash(rel)
	}
	return filepath.ToSlash(path)
}
