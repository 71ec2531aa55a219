package ingest

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
)

// finish makes the result from the merged records.
func (r *run) finish(ctx context.Context) (*Result, error) {
	j, w := r.judge, r.total
	h := j.fish.hist
	r.findTestTags()
	findings := slices.Concat(j.fish.findings, r.near, r.unsummedFinding())
	passages, err := r.judgePassages(ctx, h)
	if err != nil {
		return nil, err
	}
	findings = append(findings, r.parkedFinding(h, passages)...)
	if err := r.endHistories(h); err != nil {
		return nil, err
	}
	examples, err := r.passageExamples(ctx, passages.aside)
	if err != nil {
		return nil, err
	}
	res := &Result{Histories: h, Flags: j.fish.flags, Inputs: r.inputs()}
	res.Accounting = r.accounting(passages, examples)
	findings = append(findings, r.boxFindings(&res.Accounting)...)
	findings = append(findings, r.clockFindings()...)
	found, working := r.travel(h).look()
	findings, res.WorkingShare = append(findings, found...), working
	for i := range h.River.Sites {
		s := SiteActivity{Site: h.River.Sites[i].Name, First: history.NoTime, Last: history.NoTime}
		for p := range j.places.list {
			if a := &w.activity[p]; j.places.list[p].site == i && a.records > 0 {
				if s.Records == 0 {
					s.First, s.Last = a.first, a.last
				}
				s.First, s.Last = min(s.First, a.first), max(s.Last, a.last)
				s.Records += a.records
			}
		}
		res.Sites = append(res.Sites, s)
	}
	res.Findings = ordered(findings)
	res.Notes = append(slices.Clone(j.fish.notes), r.notes...)
	if len(r.passed) > 0 {
		res.Notes = append(res.Notes, fmt.Sprintf("%d files in the folders are no tables and were passed over, the first is %s", len(r.passed), r.passed[0]))
	}
	if len(r.empty) > 0 {
		res.Notes = append(res.Notes, fmt.Sprintf("no table in %s", strings.Join(r.empty, ", ")))
	}
	if r.opt.SetAside != nil {
		if err := r.setAside(ctx); err != nil {
			return nil, err
		}
	}
	return res, nil
}

// findTestTags moves tags that answer all day from the unknown to the test
// tags.
func (r *run) findTestTags() {
	if r.off[rule.Of(rule.TestTag).ID] {
		return
	}
	w := r.total
	tests := map[uint64]bool{}
	first := int64(noPos)
	for i := range w.unknown.slots {
		s := &w.unknown.slots[i]
		if s.key == 0 {
			continue
		}
		if rule.IsTestTag(s.first, s.last, s.reads, !s.several) {
			tests[s.key] = true
			w.boxes[rule.TestTag].n += s.reads
			w.boxes[rule.TestTag].first = min(w.boxes[rule.TestTag].first, s.pos)
			w.boxes[rule.UnknownTag].n -= s.reads
		} else {
			first = min(first, s.pos)
		}
	}
	w.boxes[rule.UnknownTag].first = first
	r.judge.tests = tests
}

// parkedFinding reports the tags that stayed at an antenna.
func (r *run) parkedFinding(h *history.Histories, p *passages) []finding {
	if p.parked == 0 {
		return nil
	}
	rows := r.judge.rows
	return []finding{{
		Finding: history.Finding{ID: "parked_tag", Count: int64(p.parked), About: h.Tag[p.firstParked/rows] + " at " + h.River.RowLabel(p.firstParked%rows),
			Message: fmt.Sprintf("%d tags stayed at an antenna for %v days or more; each is one passage", p.parked, r.parkedDays()),
			Advice:  "a tag on the bed may block the antenna and is no living fish: list it under ghost_tags if it is known to be one"},
		impact: float64(p.parked) / float64(h.Len()),
	}}
}

// endHistories says how each history ends.
func (r *run) endHistories(h *history.Histories) error {
	var faults history.Faults
	faults.Keep = 20
	masks := h.River.SiteMasks()
	open := r.judge.season.AsOf != math.MaxInt64 || r.judge.season.LastDayEnd != math.MaxInt64
	for _, x := range r.judge.fish.removal {
		last := h.LastSite(int(x.fish), masks)
		if x.site >= 0 && last != x.site {
			if open {
				continue // it may be taken out later than the time that counts
			}
			faults.Add(history.Pos{File: r.st.Fish.File, Line: x.line},
				"fish %s was removed at %q, but is not sighted there; its last sighting is at %q. Correct the place, or add the record of its removal to the sightings",
				h.Tag[x.fish], h.River.Sites[x.site].Name, h.River.Sites[last].Name)
			continue
		}
		h.End[x.fish] = history.Removed
	}
	return faults.Err()
}

// accounting is where all records went; examples are the first records of the
// passage rules.
func (r *run) accounting(p *passages, examples map[rule.ID]int64) history.Accounting {
	w := r.total
	a := history.Accounting{Read: w.records, Kept: p.kept, Repeats: p.repeats}
	for id := rule.Unreadable; id < rule.Count; id++ {
		t := w.boxes[id]
		if t.n == 0 {
			continue
		}
		first := t.first
		if rule.Of(id).Passage {
			first = examples[id]
		}
		box := history.Box{Rule: rule.Of(id).ID, Name: rule.Of(id).Name, Records: t.n, Example: r.at(first)}
		for _, word := range w.fish[id] {
			box.Fish += int64(bits.OnesCount64(word))
		}
		if id == rule.UnknownTag {
			box.Fish = int64(w.unknown.n - len(r.judge.tests))
		}
		a.SetAside = append(a.SetAside, box)
	}
	return a
}

// boxFindings are the boxes as findings, with what to do.
func (r *run) boxFindings(a *history.Accounting) []finding {
	var out []finding
	fish := float64(r.judge.fish.hist.Len())
	for _, b := range a.SetAside {
		id := rule.None
		for k := rule.Unreadable; k < rule.Count; k++ {
			if rule.Of(k).ID == b.Rule {
				id = k
			}
		}
		f := finding{Finding: history.Finding{ID: b.Rule, Count: b.Records, Example: b.Example, Advice: rule.Of(id).Advice,
			Message: fmt.Sprintf("%s set aside: %s", counted(b.Records, "record"), b.Name)}}
		switch id {
		case rule.TestTag, rule.AtRelease, rule.UnknownTag:
			// They can move the answer only where something is mistaken, as it
			// is when they are most of all records.
			f.impact = float64(b.Records) / float64(a.Read)
			if f.impact < 0.5 {
				f.impact *= 0.01
			}
		case rule.Unreadable, rule.BadTag, rule.BadTime, rule.UnknownSite, rule.UnknownAntenna:
			f.impact = float64(b.Records) / float64(a.Read)
		default:
			f.impact = float64(b.Fish) / fish
			if b.Fish > 0 {
				f.Message = fmt.Sprintf("%s of %d fish set aside: %s", counted(b.Records, "record"), b.Fish, b.Name)
			}
		}
		switch id {
		case rule.UnknownSite:
			f.About = namesNotKnown(r.total.sites, r.judge.places.siteNames())
		case rule.UnknownAntenna:
			f.About = namesNotKnown(r.total.antennas, r.judge.places.antennaNames())
		}
		out = append(out, f)
	}
	return out
}

func counted(n int64, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// namesNotKnown are the names among the sites or antennas that are not in the
// study, the most frequent first, with what the first may have been meant to be.
func namesNotKnown(count names, known []string) string {
	// Beyond the bound which names were counted depends on chance.
	if len(count) >= maxNames || len(count) == 0 {
		return ""
	}
	list := sortedKeys(count)
	slices.SortFunc(list, func(a, b string) int {
		return cmp.Or(cmp.Compare(count[b].n, count[a].n), history.NaturalCompare(a, b))
	})
	var shown []string
	for _, name := range list[:min(len(list), 5)] {
		said := strconv.Quote(name)
		if name == "" {
			said = "an empty field"
		}
		shown = append(shown, fmt.Sprintf("%s (%d)", said, count[name].n))
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

// clockFindings are the local times a clock change makes doubtful.
func (r *run) clockFindings() []finding {
	var out []finding
	for _, x := range []struct {
		how    clock.How
		t      tally
		id     string
		said   string
		advice string
	}{
		{clock.Never, r.total.never, "time_never_existed", "the clock was put forward over it; it is read with the offset before the change", "is the reader's clock kept on another time zone? Set the site's time_zone"},
		{clock.Twice, r.total.twice, "time_existed_twice", "the clock was put back; the first of the two is taken", "if the readers can write UTC or an offset, let them; an hour's doubt remains"},
	} {
		if x.t.n > 0 {
			out = append(out, finding{
				Finding: history.Finding{ID: x.id, Count: x.t.n, Example: r.at(x.t.first), Advice: x.advice,
					Message: fmt.Sprintf("%d records have a local time that is doubtful: %s", x.t.n, x.said)},
				impact: float64(x.t.n) / float64(r.total.records),
			})
		}
	}
	return out
}
