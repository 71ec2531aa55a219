// Package findings says what to look at in a study's data: what was noticed
// while its tables were read, with its first example and what to do.
//
// Begin with [Find]; ExampleFind shows it. The impact of a finding is a share
// from 0 to 1.
package findings

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"

	"example.org/unseen/history"
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
)

// Find looks at a study's tables, read and merged. The findings are ordered by
// how much they can move the answer, most first. working is, by cohort and site,
// the share of the cohort's passages that fell into the site's working windows.
// Flags are added to those of the fish. There are none of what was not read, or
// of other fish than those looked for in the sightings.
func Find(st *study.Study, off rule.Off, season rule.Season, fish *fishtable.Table, seen *sighting.Result) (found []history.Finding, working [][]float64) {
	if st.Check() != nil || fish.Check() != nil || fish.Histories.Check() != nil || seen.Check() != nil || len(seen.Places) < fish.Histories.River.Rows() {
		return nil, nil
	}
	found = slices.Concat(fish.Findings, lookAtFish(fish, st.Rules.MinimumLengthMM, off), seen.Findings)
	found = append(found, parkedTags(fish.Histories, seen, rule.ParkedDays(st))...)
	found = append(found, boxes(fish.Histories, seen)...)
	found = append(found, doubtfulTimes(seen)...)
	t := newTravel(fish.Histories, seen, off, season)
	var runs, back, silent, jumps, alike []history.Finding
	var wg sync.WaitGroup
	wg.Go(func() { runs = append(t.running(), t.tooLate()...) })
	wg.Go(func() { back = t.reversed() })
	wg.Go(func() { silent = t.outages() })
	wg.Go(func() { jumps = t.clockJumps() })
	working, alike = t.workingShare(), t.alikeSites()
	wg.Wait()
	found = slices.Concat(runs, back, alike, found, silent, jumps)
	slices.SortStableFunc(found, func(a, b history.Finding) int { return cmp.Compare(b.Impact, a.Impact) })
	return found, working
}

// parkedTags reports the tags that stayed at an antenna.
func parkedTags(h *history.Histories, seen *sighting.Result, days float64) []history.Finding {
	if seen.Parked == 0 {
		return nil
	}
	return []history.Finding{{
		ID: "parked_tag", Count: seen.Parked, About: h.Tag[seen.ParkedFish] + " at " + h.River.RowLabel(seen.ParkedRow),
		Message: history.Say("%d tags stayed at an antenna for %v days or more; each is one passage", seen.Parked, days),
		Advice:  "a tag on the bed may block the antenna and is no living fish: list it under ghost_tags if it is known to be one",
		Impact:  float64(seen.Parked) / float64(h.Len()),
	}}
}

// boxes are the boxes of records set aside, with what to do.
func boxes(h *history.Histories, seen *sighting.Result) []history.Finding {
	var out []history.Finding
	fish, read := float64(h.Len()), float64(seen.Accounting.Read)
	for _, b := range seen.Accounting.SetAside {
		id := rule.Named(b.Rule)
		records := history.Say("%d records", b.Records)
		if b.Records == 1 {
			records = "1 record"
		}
		f := history.Finding{ID: b.Rule, Count: b.Records, Example: b.Example, Advice: rule.Of(id).Advice,
			Message: fmt.Sprintf("%s set aside: %s", records, b.Name)}
		switch id {
		case rule.TestTag, rule.AtRelease, rule.UnknownTag:
			// They can move the answer only where something is mistaken, as it
			// is when they are most of all records.
			f.Impact = float64(b.Records) / read
			if f.Impact < 0.5 {
				f.Impact *= 0.01
			}
		case rule.Unreadable, rule.BadTag, rule.BadTime, rule.UnknownSite, rule.UnknownAntenna:
			f.Impact = float64(b.Records) / read
		default:
			f.Impact = float64(b.Fish) / fish
			if b.Fish > 0 {
				f.Message = history.Say("%s of %d fish set aside: %s", records, b.Fish, b.Name)
			}
		}
		switch id {
		case rule.UnknownSite:
			f.About = unknownNames(seen.UnknownSites, seen.KnownSites)
			if advice := unknownSpelling(seen.UnknownSites, &h.River); advice != "" {
				f.Advice = advice
			}
		case rule.UnknownTag:
			var column string
			if f.About, column = unknownTags(h, seen); column != "" {
				f.Advice = fmt.Sprintf("second tags of fish tagged twice? Say second_tag = %q under [fish]", column)
			} else if tests := maybeTests(seen); tests != "" {
				f.Advice += "; " + tests
			}
		case rule.UnknownAntenna:
			f.About = unknownNames(seen.UnknownAntennas, seen.KnownAntennas)
		}
		out = append(out, f)
	}
	return out
}

// unknownNames are the names among the sites or antennas that are not in the
// study, the most frequent first, with what the first may have been meant to be.
func unknownNames(count map[string]int64, known []string) string {
	if len(count) == 0 {
		return ""
	}
	list := slices.SortedFunc(maps.Keys(count), func(a, b string) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), history.NaturalCompare(a, b))
	})
	var shown []string
	for _, name := range list[:min(len(list), 5)] {
		said := strconv.Quote(name)
		if name == "" {
			said = "an empty field"
		}
		shown = append(shown, history.Say("%s (%d)", said, count[name]))
	}
	out := strings.Join(shown, ", ")
	if len(list) > 5 {
		out += ", …"
	}
	if list[0] == "" {
		list = list[1:]
	}
	if len(list) > 0 {
		out += history.Propose(list[0], known)
	}
	return out
}

// doubtfulTimes are the local times a clock change makes doubtful.
func doubtfulTimes(seen *sighting.Result) []history.Finding {
	var out []history.Finding
	for _, x := range []struct {
		count            sighting.Count
		id, said, advice string
	}{
		{seen.NeverExisted, "time_never_existed", "the clock was put forward over it; it is read with the offset before the change", "is the reader's clock kept on another time zone? Set the site's time_zone"},
		{seen.ExistedTwice, "time_existed_twice", "the clocks went back; the first of the two is taken", "if the readers can write UTC or an offset, let them; an hour's doubt remains"},
	} {
		if n := x.count.Records; n > 0 {
			out = append(out, history.Finding{ID: x.id, Count: n, Example: x.count.First, Advice: x.advice,
				Message: history.Say("%d records have a local time that is doubtful: %s", n, x.said), Impact: float64(n) / float64(seen.Accounting.Read)})
		}
	}
	return out
}
