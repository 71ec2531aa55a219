package rule

import "math"

// Passage is a fish's merged sightings at one row.
type Passage struct {
	Site        int   // index in the river's sites
	First, Last int64 // Unix milliseconds
	Reads       int64
}

// FindTooFast gives, as bits, the passages that a fish could reach only faster
// than fastest km a day from its release or from a passage farther up. (One
// farther up that is itself too fast was too early, so it accuses nobody the
// release does not.) The passages stand in downstream order; km is the place of
// each site.
func FindTooFast(p []Passage, released int64, entry int, km []float64, fastest float64) (set uint64) {
	for i := range p {
		quick := func(site int, since int64) bool {
			if min(site, p[i].Site) < 0 || max(site, p[i].Site) >= len(km) {
				return false // as where the place is not known
			}
			elapsed := p[i].First - since
			// An earlier sighting farther down is for FindOutOfOrder.
			return elapsed >= 0 && math.Abs(km[p[i].Site]-km[site])*86_400_000 > fastest*float64(elapsed)
		}
		bad := quick(entry, released)
		for j := 0; j < i && !bad; j++ {
			bad = p[j].Site < p[i].Site && quick(p[j].Site, p[j].First)
		}
		if bad {
			set |= 1 << i
		}
	}
	return set
}

// FindOutOfOrder gives, as bits, the passages that began only after one at a
// site farther down had: on its way down the fish was missed here, and its
// coming back would turn the miss into a sighting. The passages stand in
// downstream order; those in ignore are left out.
func FindOutOfOrder(p []Passage, ignore uint64) (set uint64) {
	earliest, site, below := int64(math.MaxInt64), -1, int64(math.MaxInt64)
	for i := len(p) - 1; i >= 0; i-- {
		if ignore&(1<<i) != 0 {
			continue
		}
		if p[i].Site != site {
			site, below = p[i].Site, earliest
		}
		if p[i].First > below {
			set |= 1 << i
		}
		earliest = min(earliest, p[i].First)
	}
	return set
}
