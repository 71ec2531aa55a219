package table

import (
	"fmt"
	"slices"
	"strings"

	"github.com/agnivade/levenshtein"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// FindNear notes columns that are called almost as one of the optional columns
// that the table lacks: such a column would be an attribute of the fish, and
// nobody told.
func (t *Table) FindNear(conf *study.Table, optional []string) {
	m := MapColumns(t, conf)
	var names []string
	for i := range t.Header {
		names = append(names, m.ours(i))
	}
	t.Findings = append(t.Findings, NearNames(names, optional, t.Shown)...)
}

// NearNames finds the names of columns of a file that are almost one of the
// optional ones.
func NearNames(names, optional []string, file string) []history.Finding {
	var out []history.Finding
	for _, ours := range optional {
		if slices.Contains(names, ours) {
			continue
		}
		for _, name := range names {
			if slices.Contains(optional, name) || !mistyped(name, ours) {
				continue
			}
			out = append(out, history.Finding{ID: "near_name", Count: 1, About: file, Impact: 1,
				Message: fmt.Sprintf("column %q of %s is not read as %q, which it resembles", name, file, ours),
				Advice:  fmt.Sprintf("if it is meant, rename the column, or say columns = { %s = %q }", ours, name)})
		}
	}
	return out
}

// mistyped tells whether a name is most likely another one with a slip: written
// in other letters, or with one letter wrong. In a short name a letter in the
// place of another makes another word, as size and site.
func mistyped(name, meant string) bool {
	name = strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(name))
	switch levenshtein.ComputeDistance(name, meant) {
	case 0:
		return true
	case 1:
		return len(meant) > 5 || len(name) != len(meant)
	case 2: // neighbours changed over
		return len(meant) > 5 && len(name) == len(meant)
	}
	return false
}

// FindName is the column that has one of several names, as they are written or
// else in capitals or not; -1 where there is none.
func FindName(header, called []string) int {
	for _, name := range called {
		if i := slices.Index(header, name); i >= 0 {
			return i
		}
	}
	for _, name := range called {
		if i := slices.IndexFunc(header, func(n string) bool { return strings.EqualFold(n, name) }); i >= 0 {
			return i
		}
	}
	return -1
}
