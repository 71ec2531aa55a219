package findings

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/history"
)

// IDs of the findings that put the whole answer in doubt: they come first, and
// a fit tells them before its answer.
const (
	SeasonRuns    = "season_runs"
	SitesReversed = "sites_reversed"
)

// Grave tells whether a finding puts the whole answer in doubt.
func Grave(f *history.Finding) bool { return f != nil && (f.ID == SeasonRuns || f.ID == SitesReversed) }

const (
	// leastToCome is how many first sightings must be still to come before the
	// season is said to run, and shareToCome of those there were: a few late
	// fish are no running season.
	leastToCome = 3
	shareToCome = 0.02
)

// running tells whether fish were still on their way at the last record of a
// study that takes its season for over.
func (t *travel) running() []history.Finding {
	if t.off[SeasonRuns] || !t.season.Over() || len(t.h.Released) == 0 {
		return nil
	}
	end := t.end()
	// Large studies have many of them: their room is used again.
	times := slices.DeleteFunc(slices.Clone(t.h.Released), func(at int64) bool { return at > end })
	if len(times) == 0 {
		return nil
	}
	slices.Sort(times)
	half, last := times[len(times)/2], times[len(times)-1]
	came, toCome := 0, 0.0
	for k := 1; k < t.sites; k++ {
		n, x := t.stillToCome(k, half, end, times[:0])
		came, toCome = came+n, toCome+x
	}
	if toCome < leastToCome || toCome < shareToCome*float64(came) {
		return nil
	}
	km := ", with km at every site"
	if t.sites == 2 {
		km = ""
	}
	day := t.seen.Zones[0].Format(end)[:10]
	return []history.Finding{{
		ID: SeasonRuns, Count: int64(math.Round(toCome)),
		Message: fmt.Sprintf("the season still seems to be running: the last record is of %s, %.0f days after the last release, and by the travel times so far about %.0f first detections of these fish at a site are still to come",
			day, float64(end-last)/day24, toCome),
		Advice: fmt.Sprintf("say as_of = %s in the study%s; without it fish still on their way count as dead", day, km),
		Impact: 1,
	}}
}

// end is when the last record of any tag was made, before all times where there is
// none.
func (t *travel) end() int64 {
	end := int64(math.MinInt64)
	for p := range t.seen.Activity {
		if a := &t.seen.Activity[p]; a.Records > 0 {
			end = max(end, a.Last)
		}
	}
	return end
}

// tooLate looks for fish that were released after the last record of a study that
// takes its season for over: nothing can have been detected of them.
func (t *travel) tooLate() []history.Finding {
	end := t.end()
	if t.off[releasedLate] || !t.season.Over() || end == math.MinInt64 {
		return nil
	}
	n, first := 0, -1
	for i, at := range t.h.Released {
		if at > end {
			if n++; first < 0 || at < t.h.Released[first] {
				first = i
			}
		}
	}
	if n == 0 {
		return nil
	}
	zone := t.seen.Zones[0]
	return []history.Finding{{
		ID: releasedLate, Count: int64(n), About: fmt.Sprintf("%s, released %s", t.h.Tag[first], zone.Format(t.h.Released[first])[:10]),
		Message: history.Say("%d fish released after the last record, of %s, cannot have been detected; they count as released", n, zone.Format(end)[:10]),
		Advice:  "are array files missing, or is a date of release wrong, as in its year? While the season runs, say as_of",
		Impact:  float64(n) / float64(t.h.Len()),
	}}
}

const releasedLate = "released_after_records"

const day24 = float64(day)

// stillToCome is how many fish were first detected at site k, and how many more
// are to be expected after the end of the records. How long fish take, and how
// many are detected, is told by those released in the first half of them; took has
// room for their times.
func (t *travel) stillToCome(k int, half, end int64, took []int64) (came int, toCome float64) {
	released := 0
	for i := range t.h.Entry {
		if int(t.h.Entry[i]) >= k {
			continue
		}
		seen := t.seenAt(i, k)
		if seen {
			came++
		}
		if t.h.Released[i] <= half {
			released++
			if seen {
				took = append(took, t.arrival(i, k)-t.h.Released[i])
			}
		}
	}
	if len(took) < fewFish {
		return came, 0
	}
	longest := slices.Max(took)
	slow := func(i int) bool {
		return int(t.h.Entry[i]) < k && t.h.Released[i] <= end && end-t.h.Released[i] < longest && !t.seenAt(i, k)
	}
	first := 0
	for first < len(t.h.Entry) && !slow(first) {
		first++
	}
	if first == len(t.h.Entry) {
		return came, 0
	}
	slices.Sort(took)
	sighted := float64(len(took)) / float64(released)
	for i := first; i < len(t.h.Entry); i++ {
		if !slow(i) {
			continue
		}
		n, _ := slices.BinarySearch(took, end-t.h.Released[i]+1)
		later := sighted * float64(len(took)-n) / float64(len(took))
		// Of the fish not detected yet.
		toCome += later / (1 - sighted + later)
	}
	return came, toCome
}
