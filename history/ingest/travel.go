package ingest

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
)

// travel looks at the merged sightings for what only many fish together can
// tell: readers that stood still, and clocks that jumped.
type travel struct {
	r    *run
	h    *history.Histories
	rows int
	// median is the median travel time in milliseconds from the site above to
	// each site, NaN where fewer than fewFish tell it; from the release to the
	// first site below it.
	median []float64
	sites  int
	// first and count are the rows of each site.
	first, count []int
}

// fewFish is the least number of fish that a median is taken of.
const fewFish = 5

const (
	hour = 3600_000
	day  = 24 * hour
)

func (r *run) travel(h *history.Histories) *travel {
	t := &travel{r: r, h: h, rows: r.judge.rows, sites: len(h.River.Sites)}
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

// look looks from all sides at once; working is [Result.WorkingShare].
func (t *travel) look() (found []finding, working [][]float64) {
	var outages, jumps []finding
	var wg sync.WaitGroup
	wg.Go(func() { outages = t.outages() })
	wg.Go(func() { jumps = t.clockJumps() })
	working = t.workingShare()
	wg.Wait()
	return append(outages, jumps...), working
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

// arrival is when fish i was first sighted at site k, or released there;
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
	var out []float64
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

// seenBelow tells whether fish i was sighted below site k: then it passed k.
func (t *travel) seenBelow(i, k int) bool {
	if k+1 >= t.sites {
		return false
	}
	return t.h.Seen[i]>>t.first[k+1] != 0
}

// seenAt tells whether fish i was sighted at site k.
func (t *travel) seenAt(i, k int) bool {
	return t.h.Seen[i]>>t.first[k]&(1<<t.count[k]-1) != 0
}

// workingShare is [Result.WorkingShare].
func (t *travel) workingShare() [][]float64 {
	out := make([][]float64, len(t.h.Cohorts))
	for c := range out {
		out[c] = make([]float64, t.sites)
		out[c][0] = math.NaN()
	}
	for k := 1; k < t.sites; k++ {
		windows := t.windows(k)
		inside, all := make([]int, len(out)), make([]int, len(out))
		if len(windows) > 0 && !t.r.judge.offWorking {
			for i := range t.h.Entry {
				if int(t.h.Entry[i]) >= k {
					continue
				}
				ms, ok := t.expected(i, k)
				// A fish sighted neither here nor below may not have come.
				if !ok || k+1 < t.sites && !t.seenBelow(i, k) && !t.seenAt(i, k) {
					continue
				}
				c := t.h.Cohort[i]
				all[c]++
				if rule.Inside(ms, windows) {
					inside[c]++
				}
			}
		}
		for c := range out {
			switch {
			case len(windows) == 0 || t.r.judge.offWorking:
				out[c][k] = 1
			case all[c] == 0:
				out[c][k] = math.NaN()
			default:
				out[c][k] = float64(inside[c]) / float64(all[c])
			}
		}
	}
	return out
}

func (t *travel) windows(k int) []rule.Window {
	for i := range t.r.judge.places.list {
		if p := &t.r.judge.places.list[i]; p.site == k {
			return p.windows
		}
	}
	return nil
}

// likelyMissed is how many sightings a reader must have been expected to make
// in a silence before it is called an outage: none of 7 has a chance below one
// in a thousand (Poisson, e^-7).
const likelyMissed = 7

// outages are the silences of a site, or of one row of a divided site, in
// which its neighbours' fish make sightings all but certain.
func (t *travel) outages() []finding {
	if t.r.off["outage"] {
		return nil
	}
	var out []finding
	for k := 1; k < t.sites; k++ {
		first, n := t.first[k], t.count[k]
		var all []int
		for p := range t.r.judge.places.list {
			if t.r.judge.places.list[p].site == k {
				all = append(all, p)
			}
		}
		whole := t.silences(k, t.h.River.Sites[k].Name, all, (1<<n-1)<<first)
		out = append(out, whole...)
		if n > 1 && len(whole) == 0 {
			for b := range n {
				out = append(out, t.silences(k, t.h.River.RowLabel(first+b), all[b:b+1], 1<<(first+b))...)
			}
		}
	}
	return out
}

// silences finds the outages of the places that make up one site or row; mask
// has the bits of its rows.
func (t *travel) silences(k int, name string, places []int, mask uint64) []finding {
	windows := t.windows(k)
	var when []int64
	seen, fish := 0, 0
	last := k == t.sites-1
	// Who passes the last site is not known: there every fish sighted at the
	// site above counts, and the share sighted includes survival.
	for i := 0; i < len(t.h.Entry); i += t.sampleStep() {
		if int(t.h.Entry[i]) >= k || !last && !t.seenBelow(i, k) || last && t.arrival(i, k-1) == history.NoTime {
			continue
		}
		ms, ok := t.expected(i, k)
		if !ok || !rule.Inside(ms, windows) || !t.r.judge.season.Counts(ms) {
			continue
		}
		fish++
		if t.h.Seen[i]&mask != 0 {
			seen++
		}
		when = append(when, ms)
	}
	if fish < 2*likelyMissed || seen == 0 {
		return nil
	}
	slices.Sort(when)
	var busy []int64 // the hours with a record
	for h := floorDiv(when[0], hour) - 1; h <= floorDiv(when[len(when)-1], hour)+1; h++ {
		if slices.ContainsFunc(places, func(p int) bool { return t.r.total.activity[p].isBusy(h) }) {
			busy = append(busy, h)
		}
	}
	var out []finding
	silence := func(from, to int64) { // instants
		lo, _ := slices.BinarySearch(when, from)
		hi, _ := slices.BinarySearch(when, to)
		passing := hi - lo
		// Of those passing while it worked, so many were sighted.
		share := float64(seen) / float64(max(1, fish-passing))
		missed := min(1, share) * float64(passing) * float64(t.sampleStep())
		if min(1, share)*float64(passing) < likelyMissed || to-from < 6*hour {
			return
		}
		zone := t.r.judge.places.zones[0]
		out = append(out, finding{
			Finding: history.Finding{
				ID: "outage", About: name, Count: int64(math.Round(missed)),
				Message: fmt.Sprintf("%s recorded nothing from %s to %s, while about %.0f of the fish its neighbours sighted should have been sighted there",
					name, zone.Format(from), zone.Format(to), missed),
				Advice: "find out whether the reader stood still, and give the times it worked as working = [[from, to], …] at the site",
			},
			impact: missed / float64(len(t.h.Entry)),
		})
	}
	at := when[0]
	for _, h := range busy {
		if h*hour > at {
			silence(at, h*hour)
		}
		at = max(at, (h+1)*hour)
	}
	if end := when[len(when)-1] + 1; end > at {
		silence(at, end)
	}
	return out
}

// clockJumps compares travel times before and after each change of the
// study's clocks: a reader that does not follow makes them jump by an hour.
func (t *travel) clockJumps() []finding {
	if t.r.off["clock_jump"] {
		return nil
	}
	var out []finding
	seen := map[string]bool{}
	for _, zone := range t.r.judge.places.zones {
		lo, hi := int64(math.MaxInt64), int64(math.MinInt64)
		for p := range t.r.total.activity {
			if a := &t.r.total.activity[p]; a.records > 0 {
				lo, hi = min(lo, a.first), max(hi, a.last)
			}
		}
		if lo > hi {
			return nil
		}
		changes, by := zone.Changes(lo, hi)
		for n, at := range changes {
			if by[n] != hour && by[n] != -hour {
				continue
			}
			// Neighbouring rows, and the release with the first row: a jump
			// shows where one of the two clocks did not follow.
			for b := -1; b+1 < t.rows; b++ {
				if f, ok := t.jump(b, at, zone); ok && !seen[f.Message] {
					seen[f.Message] = true
					out = append(out, f)
				}
			}
		}
	}
	return out
}

// jumpWindow is how far from a clock change travel times are compared.
const jumpWindow = 14 * day

// jump compares the travel times from row b (-1: the release) to row b+1.
func (t *travel) jump(b int, at int64, zone *clock.Zone) (finding, bool) {
	var before, after []float64
	for i := range t.h.Entry {
		y := t.h.First[i*t.rows+b+1]
		x := t.h.Released[i]
		if b >= 0 {
			x = t.h.First[i*t.rows+b]
		} else if t.h.Entry[i] != 0 {
			continue
		}
		if x == history.NoTime || y == history.NoTime {
			continue
		}
		switch {
		case x >= at-jumpWindow && max(x, y) < at-hour:
			before = append(before, float64(y-x))
		case min(x, y) >= at+hour && y < at+jumpWindow:
			after = append(after, float64(y-x))
		}
	}
	m1, e1 := medianError(before)
	m2, e2 := medianError(after)
	jump, e := m2-m1, math.Hypot(e1, e2)
	if math.IsNaN(jump) || e > hour/4 || math.Abs(math.Abs(jump)-hour) > 2*e+60_000 {
		return finding{}, false
	}
	from := "the release"
	if b >= 0 {
		from = t.h.River.RowLabel(b)
	}
	to := t.h.River.RowLabel(b + 1)
	return finding{
		Finding: history.Finding{
			ID: "clock_jump", About: to, Count: int64(len(before) + len(after)),
			Message: fmt.Sprintf("travel times from %s to %s jump by %+.0f minutes at the clock change of %s: the clock of one of them does not follow it",
				from, to, jump/60_000, zone.Format(at)),
			Advice: "if the reader is kept on one time all year, give its site that time_zone (as \"UTC\" or \"Etc/GMT-1\")",
		},
		impact: 0.01 * float64(len(after)) / float64(len(t.h.Entry)),
	}, true
}

// medianError is the median of x and its standard error, from the median
// absolute deviation as if the values were normal: 1.2533 · 1.4826 · MAD / √n.
func medianError(x []float64) (m, e float64) {
	if m = median(x); math.IsNaN(m) {
		return m, m
	}
	away := make([]float64, len(x))
	for i := range x {
		away[i] = math.Abs(x[i] - m)
	}
	return m, 1.2533 * 1.4826 * median(away) / math.Sqrt(float64(len(x)))
}
