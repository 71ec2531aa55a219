package assess

import (
	"cmp"
	"slices"

	"example.org/unseen/cjs/model"
)

// Where rows did not work all the time, what becomes of a fish depends on when it
// comes, and two fish of different past may come at different times. The checks
// still compare like with like:
//
//   - Fish at a site whose past tells of when they came (some site above did not
//     always work, or they were let go at several sites) are compared within sets
//     of fish that came at like times, where some site below did not always work.
//   - Fish that passed a site seen and unseen are compared where they are known to
//     have passed while all its rows worked: none stood still between their
//     sightings above and below. Whether such a fish was seen has nothing to do
//     with when it passed.
//
// All other tables hold as they are.

// Allowances of a table for outages.
const (
	LikeTimes = "like-times"
	AtWork    = "at-work"
)

// perSet is the number of fish in a set of like times: 8 use 7/8 of what the fish
// tell, and of 100 fish or more whose times spread over ten times the standard
// deviation of a travel time the times left within sets bias no test that shows.
const perSet = 8

// event is a release or re-release at a site.
type event struct {
	ms     int64
	past   int // sightings, as in sums.before; newly tagged: fresh
	next   int // site of the next sighting, or sites
	weight int
}

const fresh = -1

// outageSums are, of the fish of a class, what the allowances need.
type outageSums struct {
	// events[k] are the releases at k.
	events [][]event
	// mixed[k]: fish seen at k, and often or rarely before, entered at several
	// sites; entry[k] is the first such fish's, −1 without.
	mixed []bool
	entry []int
	// passed[k][l][j] are fish known to have passed k at full work, seen there
	// (l = 0) or not, and next seen at j.
	passed [][2][]int
	stops  []model.Stop // scratch
}

func newOutageSums(sites int) *outageSums {
	s := &outageSums{events: make([][]event, sites), mixed: make([]bool, sites), entry: make([]int, sites), passed: make([][2][]int, sites)}
	for k := range s.passed {
		s.entry[k] = -1
		s.passed[k] = [2][]int{make([]int, sites), make([]int, sites)}
	}
	return s
}

// sets puts the releases at k that have a line and a column (−1: none) in sets of
// like times, each a table of lines by columns.
func (t *outageSums) sets(k, columns int, line func(event) int, column func(event) int) (out [][][]int) {
	events := slices.Clone(t.events[k])
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Compare(a.ms, b.ms) })
	full := perSet
	for _, e := range events {
		l, c := line(e), column(e)
		if l < 0 || c < 0 {
			continue
		}
		if full >= perSet {
			out, full = append(out, [][]int{make([]int, columns), make([]int, columns)}), 0
		}
		out[len(out)-1][l][c] += e.weight
		full += e.weight
	}
	return out
}
