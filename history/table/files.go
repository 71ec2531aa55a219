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
	Path string // of the file
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
	if err := st.Check(); err != nil {
		return nil, nil, nil, err
	}
	taken := map[fileSheet]int{}
	for i, group := range st.Sightings {
		if group == nil || len(group.Written) != len(group.Files) {
			return nil, nil, nil, fmt.Errorf("the study's sightings, group %d, have no list of files, or not as many names as written", i+1)
		}
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

// NoFile tells a pipe, a socket or a device in a folder, which nobody named: to
// open it might take for ever.
func NoFile(d fs.DirEntry) bool {
	return d == nil || d.Type()&(fs.ModeNamedPipe|fs.ModeSocket|fs.ModeDevice) != 0
}

// fileSheet is a file, or a sheet of it.
type fileSheet struct{ path, sheet string }

// Input is the name of the file itself, without the sheet.
func (f *File) Input() string { return strings.TrimSuffix(f.Name, ", sheet "+f.Reading.Sheet) }

// groupFiles finds the files of a group in the study's folder.
func groupFiles(dir string, group *study.SightingFiles) (files []File, passed, empty []string, err error) {
	seen := map[string][]os.FileInfo{}
	tables := 0 // met so far, also those met before
	add := func(path, written string) error {
		tables++
		info, err := os.Stat(path)
		if err != nil {
			return fmt.Errorf("the array file cannot be read: %w", err)
		}
		name := study.FoldName(filepath.Clean(path))
		if again := slices.ContainsFunc(seen[name], func(x os.FileInfo) bool { return os.SameFile(x, info) }); !again && !info.IsDir() {
			seen[name] = append(seen[name], info)
			files = append(files, File{Path: path, Name: shownName(dir, path, written), Size: info.Size()})
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
					return add(path, written)
				case d.IsDir() || strings.HasPrefix(d.Name(), "."):
				case !IsTable(path) || NoFile(d):
					passed = append(passed, shownName(dir, path, written))
				default:
					return add(path, written)
				}
				return nil
			})
			if err != nil {
				return nil, nil, nil, err
			}
			if info.IsDir() && tables == before && len(matches) > 1 {
				empty = append(empty, shownName(dir, m, written))
			}
		}
		if tables == found && folders > 0 {
			return nil, nil, nil, fail("the folder %q holds no table (%s)", written, strings.Join(Endings, " "))
		}
	}
	return files, passed, empty, nil
}

// shownName is a file's name from the study's folder, with slashes, so that
// results do not depend on where the folder stands. One that the study names by its
// whole path keeps that.
func shownName(dir, path, written string) string {
	if rel, err := filepath.Rel(dir, path); err == nil && !filepath.IsAbs(written) {
		path = rel
	}
	return filepath.ToSlash(path)
}
