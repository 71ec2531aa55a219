package findings

import (
	"math"
	"slices"
	"sync"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
)

// travel looks at the merged sightings for what only many fish together can
// tell: readers that stood still, and clocks that jumped.
type travel struct {
	h      *history.Histories
	seen   *sighting.Result
	off    rule.Off
	season rule.Season
	rows   int
	// median is the median travel time in milliseconds from the site above to
	// each site, NaN where fewer than fewFish tell it; from the release to the
	// first site below it.
	median []float64
	sites  int
	// first and count are the rows of each site.
	first, count []int
	// when is room for a time of each fish of a sample.
	when []int64
}

// fewFish is the least number of fish that a median is taken of.
const fewFish = 5

const (
	hour = 3600_000
	day  = 24 * hour
)

func newTravel(h *history.Histories, seen *sighting.Result, off rule.Off, season rule.Season) *travel {
	t := &travel{h: h, seen: seen, off: off, season: season, rows: h.River.Rows(), sites: len(h.River.Sites)}
	t.first, t.count = make([]int, t.sites), make([]int, t.sites)
	for k := 1; k < t.sites; k++ {
		t.first[k], t.count[k] = h.River.FirstRow(k), h.River.Sites[k].RowCount()
	}
	t.median = make([]float64, t.sites)
	var wg sync.WaitGroup
	for k := range t.median {
		t.median[k] = math.NaN()
		if k > 0 {
			wg.Go(func() { t.median[k] = median(t.times(k-1, k)) })
		}
	}
	wg.Wait()
	t.bridge()
	return t
}

// bridge gives a median to the reaches around sites that saw no fish: that
// from the last site above to the first below which did, dealt out by km, or
// evenly.
func (t *travel) bridge() {
	for k := 1; k < t.sites; k++ {
		if !math.IsNaN(t.median[k]) {
			continue
		}
		for end := k + 1; end < t.sites; end++ {
			whole := median(t.times(k-1, end))
			if math.IsNaN(whole) {
				continue
			}
			km := math.Abs(t.h.River.Sites[end].Km - t.h.River.Sites[k-1].Km)
			for j := k; j <= end; j++ {
				share := t.h.River.ReachKm(j-1) / km
				if math.IsNaN(km) {
					share = 1 / float64(end-k+1)
				}
				t.median[j] = whole * share
			}
			break
		}
	}
}

// arrival is when fish i was first detected at site k, or released there;
// NoTime where neither.
func (t *travel) arrival(i, k int) int64 {
	if k == int(t.h.Entry[i]) {
		return t.h.Released[i]
	}
	if k == 0 {
		return history.NoTime
	}
	first := int64(math.MaxInt64)
	if t.h.Seen[i]>>t.first[k]&(1<<t.count[k]-1) == 0 {
		return history.NoTime
	}
	for b := t.first[k]; b < t.first[k]+t.count[k]; b++ {
		if x := t.h.First[i*t.rows+b]; x != history.NoTime {
			first = min(first, x)
		}
	}
	return first
}

// sampleStep thins the fish of a large study: beyond that many, medians and
// shares gain nothing.
func (t *travel) sampleStep() int { return max(1, len(t.h.Entry)/50_000) }

// times are the travel times from site j to site k.
func (t *travel) times(j, k int) []float64 {
	out := make([]float64, 0, len(t.h.Entry)/t.sampleStep()+1)
	for i := 0; i < len(t.h.Entry); i += t.sampleStep() {
		if int(t.h.Entry[i]) > j {
			continue
		}
		a, b := t.arrival(i, j), t.arrival(i, k)
		if a != history.NoTime && b != history.NoTime && b >= a {
			out = append(out, float64(b-a))
		}
	}
	return out
}

// median is NaN for fewer than fewFish values. x is put in order.
func median(x []float64) float64 {
	if len(x) < fewFish {
		return math.NaN()
	}
	slices.Sort(x)
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}

// expected is when fish i is thought to have passed site k, from its sightings
// at the nearest site above and below and the median travel times between; ok
// is false where neither tells. Sightings at k itself are not used: where a
// reader stood still there are none.
func (t *travel) expected(i, k int) (ms int64, ok bool) {
	wait := 0.0
	above := int64(history.NoTime)
	for j := k - 1; j >= int(t.h.Entry[i]); j-- {
		wait += t.median[j+1]
		if a := t.arrival(i, j); a != history.NoTime {
			if math.IsNaN(wait) {
				break
			}
			above = a + int64(wait)
			break
		}
	}
	lead := 0.0
	for j := k + 1; j < t.sites; j++ {
		lead += t.median[j]
		b := t.arrival(i, j)
		if b == history.NoTime {
			continue
		}
		switch {
		case math.IsNaN(lead) && above == history.NoTime:
			return 0, false
		case math.IsNaN(lead):
			return above, true
		case above == history.NoTime:
			return b - int64(lead), true
		}
		// Both: between the two, in proportion to the usual times.
		up := float64(above) - wait
		if wait+lead <= 0 {
			return above, true
		}
		return int64(up + (float64(b)-up)*wait/(wait+lead)), true
	}
	return above, above != history.NoTime
}

// seenBelow tells whether fish i was detected below site k: then it passed k.
func (t *travel) seenBelow(i, k int) bool {
	if k+1 >= t.sites {
		return false
	}
	return t.h.Seen[i]>>t.first[k+1] != 0
}

// seenAt tells whether fish i was detected at site k.
func (t *travel) seenAt(i, k int) bool {
	return t.h.Seen[i]>>t.first[k]&(1<<t.count[k]-1) != 0
}
