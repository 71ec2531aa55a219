package ingest

import (
	"fmt"
	"slices"
	"strings"

	"github.com/agnivade/levenshtein"

	"example.org/unseen/history"
	"example.org/unseen/history/read"
	"example.org/unseen/history/study"
)

// optionalOf are the columns with a meaning that tables can do without. One
// whose name is mistyped would be an attribute of the fish, and nobody told.
var (
	optionalFish      = []string{"site", "removed", "removed_site", "died", "shed", "cohort", "species", "length_mm", "fork_length_mm", "weight_g", "tag_mm", "tag_weight_g"}
	optionalHistories = []string{"fish", "released", "removed", "count", "cohort"}
	optionalSightings = []string{"site", "antenna"}
)

// nearTable finds columns of a table that are called almost as an optional one
// that it lacks.
func nearTable(t *read.Table, conf *study.Table, optional []string, file string) []finding {
	m := newMapping(t, conf)
	var names []string
	for i := range t.Header {
		names = append(names, m.ours(i))
	}
	return nearNames(names, optional, file)
}

// nearColumns looks at the header of an array file; columns that the study names
// are found by name, or their file is refused.
func (r *run) nearColumns(names []string, file int) {
	mapped := func(ours string) bool { return r.st.Sightings.Columns[ours] != nil }
	r.near = append(r.near, nearNames(names, slices.DeleteFunc(slices.Clone(optionalSightings), mapped), r.files[file].name)...)
}

// unsummedFinding tells of compressed files that cannot tell whether they are
// damaged.
func (r *run) unsummedFinding() []finding {
	n := len(r.unsummed)
	if n == 0 {
		return nil
	}
	return []finding{{Finding: history.Finding{ID: "no_checksum", Count: int64(n), About: r.unsummed[0],
		Message: fmt.Sprintf("%s compressed without a checksum: damage cannot be noticed", counted(int64(n), "file")),
		Advice:  "compress them again with one, as zstd does by default"}}}
}

func nearNames(names, optional []string, file string) []finding {
	var out []finding
	for _, ours := range optional {
		if slices.Contains(names, ours) {
			continue
		}
		for _, name := range names {
			if slices.Contains(optional, name) || !mistyped(name, ours) {
				continue
			}
			out = append(out, finding{impact: 1, Finding: history.Finding{ID: "near_name", Count: 1, About: file,
				Message: fmt.Sprintf("column %q of %s is not read as %q, which it resembles", name, file, ours),
				Advice:  fmt.Sprintf("if it is meant, rename the column, or say columns = { %s = %q }", ours, name)}})
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
