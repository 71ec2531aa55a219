package figure

import (
	"strings"

	"example.org/unseen/cjs/analysis"
)

// suffixes are the endings of our own column names, which name their unit.
var suffixes = []string{"mm", "cm", "m", "km", "g", "kg", "days", "hours", "percent"}

// label is a column's name for people, with its unit in brackets: that of the
// study's units, or the one in which the name ends.
func label(d *analysis.Data, column string) string {
	unit := d.Study.Units[column]
	words := strings.ReplaceAll(column, "_", " ")
	for _, s := range append([]string{unit}, suffixes...) {
		if s == "" {
			continue
		}
		if rest, ok := strings.CutSuffix(words, " "+s); ok {
			if unit == "" {
				unit = s
			}
			words = rest
			break
		}
	}
	switch unit {
	case "":
		return words
	case "percent":
		unit = "%"
	}
	return words + " (" + unit + ")"
}
