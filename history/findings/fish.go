package findings

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/rule"
)

// leastLength is the length of fish in mm above which a tag of a length in mm
// is put into the body cavity: 55 for 9 mm tags and 65 for 12.5 mm tags
// (common practice).
var leastLength = []struct{ tag, fish float64 }{{9, 55}, {12.5, 65}}

// tagsAlike is how far a tag may be from the nominal length, in mm.
const tagsAlike = 0.5

const (
	oddLength = "odd_length"
	// oddTimes is how many times the median length, or what part of it, is taken for
	// a slip: fish of one study differ by less, and a digit too many or another unit
	// by more.
	oddTimes = 5
)

// oddLengths reports lengths that no fish among these has.
func oddLengths(h *history.Histories) (found []history.Finding) {
	for _, name := range growth.Lengths {
		c := h.Column(name)
		if c == nil || c.IsCategory() {
			continue
		}
		lengths := slices.DeleteFunc(slices.Clone(c.Value), math.IsNaN)
		if len(lengths) < fewFish {
			continue
		}
		slices.Sort(lengths)
		middle := lengths[len(lengths)/2]
		n, first := 0, -1
		for i, x := range c.Value {
			if x > oddTimes*middle || x < middle/oddTimes {
				if n++; first < 0 {
					first = i
				}
			}
		}
		if n > 0 {
			found = append(found, history.Finding{ID: oddLength, Count: int64(n), About: fmt.Sprintf("%s: %s = %v", h.Tag[first], name, c.Value[first]),
				Message: history.Say("the %s of %d fish is over five times the median of %v or under a fifth of it; they count", name, n, middle),
				Advice:  "correct the length in the fish table: a digit too many or too few, or another unit; it moves every answer that uses lengths",
				Impact:  float64(n) / float64(h.Len())})
		}
	}
	return found
}

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
			found = append(found, history.Finding{ID: id, Count: int64(n), Message: history.Say(message, n), About: h.Tag[first], Advice: advice,
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
	if !off[oddLength] {
		found = append(found, oddLengths(h)...)
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
