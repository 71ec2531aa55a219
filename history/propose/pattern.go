package propose

import (
	"path"
	"slices"
	"strings"
	"unicode"

	"example.org/unseen/history/study"
)

// patternFiles: as many files of one reading are named by a pattern, so that
// those a reader writes tomorrow are read too.
const patternFiles = 3

// fileList names files: by a pattern where there are several and it finds them
// and no other file that is there, else one by one.
func (g *guess) fileList(files []*sample) string {
	var names, shown []string
	for _, t := range files {
		if !slices.Contains(names, t.file.Name) {
			names = append(names, t.file.Name)
			shown = append(shown, quoted(t.file.Name))
		}
	}
	if len(names) >= patternFiles {
		for _, p := range patterns(names) {
			if g.finds(p, names) {
				return quoted(p)
			}
		}
	}
	return strings.Join(shown, ", ")
}

// patterns are those that may find the files, the simplest first: all of an
// ending in a folder, those whose names begin alike, and all in folders that
// stand side by side.
func patterns(names []string) (out []string) {
	first := names[0]
	dir, ext := path.Dir(first), path.Ext(first)
	for _, n := range names {
		if path.Ext(n) != ext || strings.ContainsAny(n, `*?[\`) {
			return nil
		}
	}
	same := func(of func(string) string) bool {
		return !slices.ContainsFunc(names, func(n string) bool { return of(n) != of(first) })
	}
	if same(path.Dir) {
		out = append(out, path.Join(dir, "*"+ext))
		if p := beginning(names); p != "" {
			out = append(out, path.Join(dir, p+"*"+ext))
		}
	} else if over := func(n string) string { return path.Dir(path.Dir(n)) }; dir != "." && same(over) {
		out = append(out, path.Join(over(first), "*", "*"+ext))
	}
	return out
}

// beginning is how the names of the files all begin, without the digits of a
// day or number; "" where that is too little to tell them by.
func beginning(names []string) string {
	p := []rune(path.Base(names[0]))
	for _, n := range names[1:] {
		m := []rune(path.Base(n))
		k := 0
		for k < len(p) && k < len(m) && p[k] == m[k] {
			k++
		}
		p = p[:k]
	}
	for len(p) > 0 && unicode.IsDigit(p[len(p)-1]) {
		p = p[:len(p)-1]
	}
	if len(p) < 2 {
		return ""
	}
	return string(p)
}

// finds tells whether the pattern finds these of the files that are there, and
// no other.
func (g *guess) finds(pattern string, names []string) bool {
	n := 0
	for _, f := range g.found {
		if ok, err := path.Match(study.FoldName(pattern), study.FoldName(f)); err == nil && ok {
			if !slices.Contains(names, f) {
				return false
			}
			n++
		}
	}
	return n == len(names)
}
