package findings

import (
	"fmt"
	"math"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
)

// leastLength is the length of fish in mm above which a tag of a length in mm
// is put into the body cavity: 55 for 9 mm tags and 65 for 12.5 mm tags
// (common practice).
var leastLength = []struct{ tag, fish float64 }{{9, 55}, {12.5, 65}}

// tagsAlike is how far a tag may be from the nominal length, in mm.
const tagsAlike = 0.5

// lookAtFish reports fish of uncertain species or below the minimum length for
// their tag: they count, but the reader should know.
func lookAtFish(f *fishtable.Table, minimumLengthMM float64, off rule.Off) (found []history.Finding) {
	h := f.Histories
	flag := func(id string, bit history.Flag, message, advice string, is func(i int) bool) {
		n, first := 0, -1
		for i := range f.Flags {
			if is(i) {
				f.Flags[i] |= bit
				if n++; first < 0 {
					first = i
				}
			}
		}
		if n > 0 {
			found = append(found, history.Finding{ID: id, Count: int64(n), Message: fmt.Sprintf(message, n), About: h.Tag[first], Advice: advice,
				Impact: float64(n) / float64(len(f.Flags))})
		}
	}
	if c := h.Column("species"); c != nil && c.IsCategory() && !off["uncertain_species"] {
		uncertain := make([]bool, len(c.Levels))
		for i, s := range c.Levels {
			s = strings.ToLower(s)
			uncertain[i] = strings.ContainsAny(s, "?") || strings.Contains(s, "unidentified") || strings.Contains(s, "unknown") ||
				strings.Contains(s, "uncertain") || strings.Contains(s, "hybrid")
		}
		flag("uncertain_species", history.UncertainSpecies, "%d fish are of uncertain species; they count", "leave them out of the fish table if the question is about one species",
			func(i int) bool { return c.Level[i] < 0 || uncertain[c.Level[i]] })
	}
	length := h.Column("fork_length_mm")
	if length == nil {
		length = h.Column("length_mm")
	}
	if length == nil || length.IsCategory() || off["below_minimum_length"] {
		return found
	}
	tag := h.Column("tag_mm")
	least := func(i int) float64 {
		if minimumLengthMM > 0 {
			return minimumLengthMM
		}
		if tag == nil || tag.IsCategory() {
			return 0
		}
		for _, x := range leastLength {
			if math.Abs(tag.Value[i]-x.tag) <= tagsAlike {
				return x.fish
			}
		}
		return 0
	}
	flag("below_minimum_length", history.BelowMinimumLength, "%d fish are below the minimum length for their tag; they count", "estimates are for fish of taggable size: leave smaller ones out, or say so",
		func(i int) bool { return length.Value[i] < least(i) })
	return found
}
