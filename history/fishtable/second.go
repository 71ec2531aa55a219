package fishtable

import (
	"maps"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagindex"
)

// secondTags are the second tags of fish with the first, both as written: those
// of the study's aliases and of the table's column. A second tag of two fish is
// a fault.
func secondTags(st *study.Study, form tagindex.Form, column []secondTag) (map[string]string, error) {
	if len(column) == 0 {
		return st.Fish.Aliases, nil
	}
	var faults history.Faults
	pairs := maps.Clone(st.Fish.Aliases)
	if pairs == nil {
		pairs = map[string]string{}
	}
	seen := map[uint64]uint64{} // first by second
	for second, first := range pairs {
		a, errA := form.KeyOf(second)
		b, errB := form.KeyOf(first)
		if errA == nil && errB == nil {
			seen[a] = b
		}
	}
	for _, x := range column {
		second, _ := form.KeyOf(x.second) // sound, or the table is refused
		first, _ := form.KeyOf(x.first)
		was, twice := seen[second]
		switch {
		case second == first || twice && was == first: // the tag itself, or said before
		case twice:
			faults.Add(history.Pos{File: st.Fish.File, Line: int(x.line)}, "column %q: %s is the second tag of another fish too", st.Fish.SecondTag, x.second)
		default:
			seen[second], pairs[x.second] = first, x.first
		}
	}
	return pairs, faults.Err()
}
