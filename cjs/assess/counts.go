package assess

import (
	"math/bits"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// sums counts the releases and re-releases of the fish of a class. A release
// at site k ends at the site of the next sighting j > k, or in column sites:
// never seen again.
type sums struct {
	sites int
	// fresh[k][j] are newly tagged at k; nil where there are none.
	fresh [][]int
	// before[k][c][j] were detected at k and c−1 times between their release
	// and k; c = 0 stands for no site between.
	before [][][]int
	// rows[b] are the fish seen below the site of rows b and b+1, by whether
	// these two saw them: neither, b only, b+1 only, both.
	rows [][4]int
	// outage is nil where all rows worked all the time.
	outage *outageSums
	siteOf []int // of numbered rows
}

// all[k][j] are the releases at k whatever their past.
func (s *sums) all() [][]int {
	out := make([][]int, s.sites)
	for k := range out {
		out[k] = make([]int, s.sites+1)
		addInts(out[k], s.fresh[k])
		for _, n := range s.before[k] {
			addInts(out[k], n)
		}
	}
	return out
}

func addInts(to, from []int) {
	for i, n := range from {
		to[i] += n
	}
}

// count walks the fish, once.
func count(h *history.Histories, classOf []int32, classes int, o *model.Outages) []sums {
	sites := len(h.River.Sites)
	masks := h.River.SiteMasks()
	siteOf := h.River.SiteOfRow()
	divided := false
	for k := 1; k < sites; k++ {
		divided = divided || h.River.Sites[k].Divided()
	}
	out := make([]sums, classes)
	for g := range out {
		out[g] = sums{sites: sites, fresh: make([][]int, sites), before: make([][][]int, sites), rows: make([][4]int, len(siteOf)), siteOf: siteOf}
		if o != nil {
			out[g].outage = newOutageSums(sites)
		}
	}
	for i, g := range classOf {
		if g < 0 {
			continue
		}
		s, seen, w := &out[g], h.Seen[i], h.Weight(i)
		entry := int(h.Entry[i])
		at, sightings := entry, 0
		for rest := seen; ; {
			next := sites
			if rest != 0 {
				next = siteOf[bits.TrailingZeros64(rest)]
				rest &^= masks[next]
			}
			if next < sites || h.End[i] == history.Open {
				s.release(entry, at, sightings)[next] += w
			}
			if next == sites {
				break
			}
			if at > entry {
				sightings++
			}
			at = next
		}
		if o != nil {
			s.addTimed(o, h, i, at)
		} else if divided && h.End[i] != history.Continued {
			s.countRows(siteOf, masks, entry, at, seen, w)
		}
	}
	return out
}

// add takes record i, seen last at site last.
func (s *sums) addTimed(o *model.Outages, h *history.Histories, i, last int) {
	t, w, entry := s.outage, h.Weight(i), int(h.Entry[i])
	t.stops = model.Stops(t.stops[:0], h, i)
	seen := 0
	for n, at := range t.stops {
		next := s.sites
		if n+1 < len(t.stops) {
			next = t.stops[n+1].Site
		}
		past := fresh
		if n > 0 {
			if past = 0; at.Site > entry+1 {
				past = seen + 1
				t.mixed[at.Site] = t.mixed[at.Site] || t.entry[at.Site] >= 0 && t.entry[at.Site] != entry
				t.entry[at.Site] = entry
			}
			seen++
		}
		if next < s.sites || h.End[i] == history.Open {
			t.events[at.Site] = append(t.events[at.Site], event{at.First, past, next, w})
		}
		if next == s.sites {
			break
		}
		for k := at.Site + 1; k < next; k++ { // missed
			if !model.Touches(o.Sites[k], at.Last, t.stops[n+1].First) {
				t.passed[k][1][next] += w
			}
		}
		if n > 0 && !model.Touches(o.Sites[at.Site], t.stops[n-1].Last, t.stops[n+1].First) {
			t.passed[at.Site][0][next] += w
		}
	}
	for b := 0; b+1 < len(o.Rows) && h.End[i] != history.Continued; b++ {
		k := s.siteOf[b]
		if k != s.siteOf[b+1] || k <= entry || k >= last {
			continue
		}
		if from, to, ok := model.Around(t.stops, k); ok && !model.Touches(o.Rows[b], from, to) && !model.Touches(o.Rows[b+1], from, to) {
			s.rows[b][h.Seen[i]>>uint(b)&3] += w
		}
	}
}

// release is where a release at site at is counted.
func (s *sums) release(entry, at, sightings int) []int {
	if at == entry {
		if s.fresh[at] == nil {
			s.fresh[at] = make([]int, s.sites+1)
		}
		return s.fresh[at]
	}
	if s.before[at] == nil {
		s.before[at] = make([][]int, at+1)
	}
	c := 0
	if at > entry+1 {
		c = sightings + 1
	}
	if s.before[at][c] == nil {
		s.before[at][c] = make([]int, s.sites+1)
	}
	return s.before[at][c]
}

// countRows counts a fish seen at site last at the pairs of rows above it.
func (s *sums) countRows(siteOf []int, masks []uint64, entry, last int, seen uint64, w int) {
	for b := 0; b+1 < len(siteOf); b++ {
		if k := siteOf[b]; k > entry && k < last && siteOf[b+1] == k {
			s.rows[b][seen>>uint(b)&3] += w
		}
	}
}
