// Package demo holds the demo study: invented sea trout smolts of an invented
// river, made by a seeded generator, with what is true of them beside it.
package demo

import (
	"embed"
	"io/fs"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
)

//go:generate go run ./generate files

//go:embed files
var embedded embed.FS

// Study is the name of the demo's study file.
const Study = "study.toml"

// Files is the demo study, the study file at its top.
func Files() fs.FS {
	sub, err := fs.Sub(embedded, "files")
	if err != nil {
		panic(err) // the folder is embedded above
	}
	return sub
}

// Write writes the demo study into dir, which is made if it is missing. A file
// that the rule keeps is an error, and then no file is written.
func Write(dir string, rule atomicfile.Rule) error {
	set, err := atomicfile.NewSet(dir, rule)
	if err != nil {
		return err
	}
	defer set.Discard()
	files := Files()
	err = fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		w, err := set.Create(name)
		if err != nil {
			return err
		}
		_, err = w.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	return set.Commit()
}
