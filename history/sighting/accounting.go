package sighting

import (
	"math/bits"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
)

// findTestTags moves tags that answer all day from the unknown to the test
// tags.
func (r *run) findTestTags() {
	if r.opt.Off[rule.Of(rule.TestTag).ID] {
		return
	}
	w := r.total
	r.judge.testTags = map[uint64]bool{}
	w.boxes[rule.UnknownTag] = tally{}
	for key, x := range w.unknown {
		box := rule.UnknownTag
		if rule.IsTestTag(x.first, x.last, x.reads, !x.several) {
			box, r.judge.testTags[key] = rule.TestTag, true
		}
		w.boxes[box].join(tally{x.reads, x.pos})
	}
}

// accounting is where all records went; examples are the first records of the
// passage rules.
func (r *run) accounting(p *passageCount, examples map[rule.ID]int64) history.Accounting {
	w := r.total
	a := history.Accounting{Read: w.records, Kept: p.kept, Repeats: p.repeats}
	for id := rule.Unreadable; id < rule.Count; id++ {
		t := w.boxes[id]
		if t.n == 0 {
			continue
		}
		if rule.Of(id).Passage {
			t.first = examples[id]
		}
		box := history.Box{Rule: rule.Of(id).ID, Name: rule.Of(id).Name, Records: t.n, Example: r.at(t)}
		for _, word := range w.fish[id] {
			box.Fish += int64(bits.OnesCount64(word))
		}
		if id == rule.UnknownTag {
			box.Fish = int64(len(w.unknown) - len(r.judge.testTags))
		}
		a.SetAside = append(a.SetAside, box)
	}
	return a
}
