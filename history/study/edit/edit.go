// Package edit changes study files in place: one key is written anew, and every
// other byte, all comments, the order and the spacing stay as their owner left
// them.
//
// A [File] takes [Change] values, one or several at a time. The outcome must be a
// study that [study.Parse] accepts; else the file stays as it was. So what only
// makes sense together, such as km at every site, is one call of [File.Apply].
//
// Begin with [File.Apply]; ExampleFile_Apply shows it.
package edit

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history/study"
)

// File is the text of a study file.
type File struct {
	name string
	data []byte
}

// Parse takes the bytes of a study file; name stands in messages, and its folder
// is where the study's tables are. The text must be TOML, while what it says may
// still be wrong: a change may put it right. The bytes are copied.
func Parse(name string, data []byte) (*File, error) {
	f := &File{name: name, data: bytes.Clone(data)}
	if _, err := study.OpenSection(name, data); err != nil {
		return nil, err
	}
	return f, nil
}

// Bytes is the text as it is now; a file nobody changed has the bytes it was made of.
func (f *File) Bytes() []byte { return bytes.Clone(f.data) }

// Apply makes the changes, one after the other, all or none: an error, from a
// change that cannot be made or of the study they would leave (then it is a
// *[example.org/unseen/history.Faults] with lines of that text), leaves the file
// as it was.
func (f *File) Apply(changes ...Change) error {
	text := &text{data: bytes.Clone(f.data)}
	for _, c := range changes {
		if c.make == nil {
			return fmt.Errorf("%s: a change that does nothing; Set, Append and Remove make one", f.name)
		}
		if err := c.make(text); err != nil {
			return fmt.Errorf("%s: %w", f.name, err)
		}
	}
	if _, err := study.Parse(f.name, text.data); err != nil {
		return err
	}
	f.data = text.data
	return nil
}

// String is the path in words, lists counted from 1: "site 2, km".
func (p Path) String() string {
	var b strings.Builder
	for i, x := range p {
		if n, ok := x.(int); ok {
			fmt.Fprintf(&b, " %d", n+1)
			continue
		}
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprint(&b, x)
	}
	return b.String()
}

// Change is one of [Set], [Append] and [Remove].
type Change struct {
	make func(*text) error
}

// Set gives the key or the entry of a list at path a value: a string, a bool, an
// int or a finite float64, a time.Time (written with its offset), [Raw], [Table],
// or a []string, []any or []Table of these. A key that is not there is added at
// the end of its table, and its table at the end of the file. A list or table that
// is there keeps what stays the same in it.
func Set(path Path, value any) Change {
	return Change{func(t *text) error { return checked(path, value, t.set) }}
}

// Append adds an entry to the list at path: a [[site]], [[hold]] or [[model]] where
// value is a [Table], a tag, a file, a window of working. A single text is made a
// list first; where there is no list, one is begun.
func Append(path Path, value any) Change {
	return Change{func(t *text) error { return checked(path, value, t.append) }}
}

// Remove takes away the key, table or entry of a list at path. Comments beside or
// inside it stay, on lines of their own.
func Remove(path Path) Change {
	return Change{func(t *text) error { return checked(path, true, func(p Path, _ any) error { return t.remove(p) }) }}
}

// checked refuses paths and values that are none.
func checked(path Path, value any, do func(Path, any) error) error {
	for i, x := range path {
		_, key := x.(string)
		n, place := x.(int)
		if !key && !(place && n >= 0 && i > 0) {
			return fmt.Errorf("a path is keys, and places in lists from 0 after their key: %v", []any(path))
		}
	}
	if len(path) == 0 {
		return fmt.Errorf("the path is empty")
	}
	if _, err := render(value); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return do(slices.Clone(path), value)
}
