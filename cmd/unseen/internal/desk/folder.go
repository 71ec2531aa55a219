package desk

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"os"
	"path/filepath"
	"strings"

	"crypto/rand"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// folder is the one folder the page sees. Every name goes through its root, so
// that neither dots nor links lead out of it.
type folder struct {
	path string
	root *os.Root
}

func openFolder(path string) (*folder, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(abs)
	if err != nil {
		return nil, err
	}
	return &folder{abs, root}, nil
}

// join is the path of a name in the folder, for what reads paths.
func (f *folder) join(name string) string { return filepath.Join(f.path, filepath.FromSlash(name)) }

// rel is a path as a name in the folder; an error says that it lies outside.
func (f *folder) rel(path string) (string, error) {
	rel, err := filepath.Rel(f.path, path)
	if err != nil || !filepath.IsLocal(rel) {
		return "", outside(path)
	}
	return rel, nil
}

func outside(path string) error {
	return fmt.Errorf("%s lies outside the folder that this page was opened for; open the page for the folder above, or use the commands", filepath.ToSlash(path))
}

// paths are the files that a study reads, all of them inside the folder. Files
// that are missing are no matter here: reading says so better.
func (f *folder) paths(st *study.Study) ([]string, error) {
	out := st.TableFiles()
	for _, group := range st.Sightings {
		for _, pattern := range group.Files {
			if _, err := f.rel(pattern); err != nil {
				return nil, err
			}
		}
	}
	for _, p := range out {
		if err := f.within(p); err != nil {
			return nil, err
		}
	}
	if st.Sightings != nil {
		files, _, _, err := table.Files(st)
		if err != nil {
			return nil, err
		}
		for _, x := range files {
			if err := f.within(x.Path); err != nil {
				return nil, err
			}
			out = append(out, x.Path)
		}
	}
	return out, nil
}

// within refuses a path that leads out of the folder, by a link too.
func (f *folder) within(path string) error {
	rel, err := f.rel(path)
	if err != nil {
		return err
	}
	switch _, err = f.root.Stat(rel); {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, fs.ErrPermission):
		return nil
	}
	return outside(path)
}

// entry is a file of the folder.
type entry struct {
	Name  string
	Size  int64
	Table bool
}

// mostEntries is how many files are looked at: a home folder chosen by mistake
// must not hang the page.
const mostEntries = 2000

// list are the files of the folder that may be tables or studies, those of
// folders in it too, in order; more tells that there are others.
func (f *folder) list() (out []entry, more bool, err error) {
	seen := 0
	err = fs.WalkDir(f.root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return err
		case err != nil:
			return nil // a folder that may not be looked into
		case name != "." && strings.HasPrefix(d.Name(), "."):
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		case d.IsDir():
			return nil
		}
		if seen++; seen > mostEntries {
			more = true
			return fs.SkipAll
		}
		isTable := table.IsTable(name)
		if !isTable && !strings.HasSuffix(strings.ToLower(name), ".toml") {
			return nil
		}
		if info, err := d.Info(); err == nil && info.Mode().IsRegular() {
			out = append(out, entry{name, info.Size(), isTable})
		}
		return nil
	})
	return out, more, err
}

// nameFor is the name that a file sent to the page gets in the folder.
func nameFor(sent string) (string, error) {
	name := sent[strings.LastIndexAny(sent, `/\`)+1:]
	switch {
	case !atomicfile.Portable(name) || len(name) > 200:
		return "", fmt.Errorf("a file cannot be called %q here; give it another name", sent)
	case !table.IsTable(name) && !strings.HasSuffix(strings.ToLower(name), ".toml"):
		return "", fmt.Errorf("%s is no table; tables end in %s", name, strings.Join(table.Endings, " "))
	}
	return name, nil
}

// take puts a file sent to the page into the folder, whole or not at all, and
// never over another.
func (f *folder) take(part *multipart.Part) (string, error) {
	name, err := nameFor(part.FileName())
	if err != nil {
		return "", err
	}
	if _, err := f.root.Lstat(name); err == nil {
		return "", taken(name)
	}
	temp := ".unseen-upload-" + rand.Text()
	w, err := f.root.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return "", err
	}
	defer f.root.Remove(temp)
	_, err = io.Copy(w, part)
	if err := errors.Join(err, w.Sync(), w.Close()); err != nil {
		return "", fmt.Errorf("%s did not arrive whole and was not kept: %w", name, err)
	}
	// A second name is refused where there is a file, which a rename is not.
	if err := f.root.Link(temp, name); err == nil {
		return name, nil
	}
	if _, err := f.root.Lstat(name); err == nil {
		return "", taken(name)
	}
	// Sticks and shares without links.
	return name, f.root.Rename(temp, name)
}

func taken(name string) error {
	return fmt.Errorf("%s is already there; nothing of yours is overwritten: give the new file another name", name)
}
