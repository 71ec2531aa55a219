package findings

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
)

// likelyMissed is how many sightings a reader must have been expected to make
// in a silence before it is called an outage: none of 7 has a chance below one
// in a thousand (Poisson, e^-7).
const likelyMissed = 7

// outages are the silences of a site, or of one row of a divided site, in
// which its neighbours' fish make sightings all but certain.
func (t *travel) outages() []history.Finding {
	if t.off["outage"] {
		return nil
	}
	var out []history.Finding
	t.when = make([]int64, 0, len(t.h.Entry)/t.sampleStep()+1)
	for k := 1; k < t.sites; k++ {
		first, n := t.first[k], t.count[k]
		var all []int
		for p := range t.seen.Places {
			if t.seen.Places[p].Site == k {
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
func (t *travel) silences(k int, name string, places []int, mask uint64) []history.Finding {
	windows := t.windows(k)
	when, end := t.when[:0], t.end()
	seen, fish := 0, 0
	last := k == t.sites-1
	// Who passes the last site is not known: there every fish detected at the
	// site above counts, and the share detected includes survival.
	for i := 0; i < len(t.h.Entry); i += t.sampleStep() {
		if int(t.h.Entry[i]) >= k || !last && !t.seenBelow(i, k) || last && t.arrival(i, k-1) == history.NoTime {
			continue
		}
		ms, ok := t.expected(i, k)
		// Behind the last record of any site no site could have one.
		if !ok || ms > end || !rule.Inside(ms, windows) || !t.season.Counts(ms) {
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
	for h := sighting.Hour(when[0]) - 1; h <= sighting.Hour(when[len(when)-1])+1; h++ {
		if slices.ContainsFunc(places, func(p int) bool { return t.seen.Activity[p].Busy(h) }) {
			busy = append(busy, h)
		}
	}
	var out []history.Finding
	var found []rule.Window
	silence := func(from, to int64) { // instants
		lo, _ := slices.BinarySearch(when, from)
		hi, _ := slices.BinarySearch(when, to)
		passing := hi - lo
		// Of those passing while it worked, so many were detected.
		share := float64(seen) / float64(max(1, fish-passing))
		missed := min(1, share) * float64(passing) * float64(t.sampleStep())
		if min(1, share)*float64(passing) < likelyMissed || to-from < 6*hour {
			return
		}
		zone := t.seen.Zones[0]
		out = append(out, history.Finding{
			ID: "outage", About: name, Count: int64(math.Round(missed)),
			Message: fmt.Sprintf("%s recorded nothing from %s to %s, while about %.0f of the fish its neighbours detected should have been detected there",
				name, zone.Format(from), zone.Format(to), missed),
			Impact: missed / float64(len(t.h.Entry)),
		})
		found = append(found, rule.Window{From: from, To: to})
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
	for i := range out {
		out[i].Advice = "if the reader was out of service, say at the site " + t.workingLine(k, name, places, found)
	}
	return out
}

// workingLine is the line of the study file that says of the places of one site
// or row that they worked but in the silences. Without windows it begins with the
// day of the first release, and ends a year later or with the last record.
func (t *travel) workingLine(k int, name string, places []int, silences []rule.Window) string {
	windows := t.seen.Places[places[0]].Windows
	if len(places) > 1 {
		windows = t.windows(k)
	}
	zone := t.seen.Zones[0]
	if windows == nil {
		first := int64(math.MaxInt64)
		for _, ms := range t.h.Released {
			if ms != history.NoTime {
				first = min(first, ms)
			}
		}
		windows = []rule.Window{{From: midnight(zone, first), To: midnight(zone, max(first+365*day, t.end()+day))}}
	}
	var parts []string
	for _, w := range windows {
		from := w.From
		for _, s := range append(silences, rule.Window{From: w.To, To: w.To}) {
			if to := min(s.From, w.To); from < to {
				parts = append(parts, fmt.Sprintf("[%s, %s]", t.asTOML(from), t.asTOML(to)))
			}
			from = max(from, s.To)
		}
	}
	line := "[" + strings.Join(parts, ", ") + "]"
	if row, ok := strings.CutPrefix(name, t.h.River.Sites[k].Name+"/"); ok && len(places) == 1 {
		line = fmt.Sprintf("{ %q = %s }", row, line)
	}
	return "working = " + line
}

// midnight is the one before a moment, but for an hour where clocks change.
func midnight(zone *clock.Zone, ms int64) int64 {
	local := ms + zone.Offset(ms)
	return ms - (local%day+day)%day
}

// asTOML writes a moment as the study file takes it; a midnight as its day, where
// all sites keep one zone.
func (t *travel) asTOML(ms int64) string {
	s := t.seen.Zones[0].Format(ms)
	if day, rest, _ := strings.Cut(s, " "); len(t.seen.Zones) == 1 && strings.HasPrefix(rest, "00:00:00") {
		return day
	}
	return strings.Replace(s, " ", "T", 1)
}
