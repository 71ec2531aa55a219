package sighting

import (
	"example.org/unseen/history/rule"
	"example.org/unseen/history/tagindex"
)

// decide judges records that were read: the rules from TestTag on.
func (c *reader) decide(recs []record) {
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		k := c.lookUp(r)
		if k == nil {
			r.rule = rule.UnknownTag
			if c.testTags != nil && c.testTags[r.tagKey] {
				r.rule = rule.TestTag
			}
			continue
		}
		r.fish = k.Fish
		switch {
		case k.Rule != rule.None:
			r.rule = k.Rule
		case r.place == unknownAntenna:
			r.rule = rule.UnknownAntenna
		case r.place < 0:
			r.rule = rule.UnknownSite
		default:
			p := &c.at[r.place]
			if r.ms < p.open.From || r.ms >= p.open.To || r.ms < k.Released || int(k.Entry) >= p.site || k.Special {
				r.rule = c.atPlace(r, k)
			}
			if c.asidePassages != nil && r.rule == rule.None {
				r.rule = c.asidePassages[int(k.Fish)*c.rows+p.row]
			}
		}
	}
}

// atPlace judges a record of a known fish at a known place.
func (c *reader) atPlace(r *record, k *tagindex.Meaning) rule.ID {
	p := &c.places.list[r.place]
	windows := p.Windows
	if c.offWorking {
		windows = nil
	}
	if k.Special {
		return rule.Record(r.ms, p.Site, c.fish.Special[k.Fish], &c.season, windows)
	}
	if open, ok := c.season.Open(r.ms, windows); ok {
		c.at[r.place].open = open
	}
	fish := rule.Alive(k.Released, int(k.Entry))
	return rule.Record(r.ms, p.Site, &fish, &c.season, windows)
}

// lookUp finds what a record's tag stands for; nil where it stands for nothing.
// It is valid until the next call.
func (c *reader) lookUp(r *record) *tagindex.Meaning {
	if r.recent < 0 || c.recent.tags[r.recent].since != r.since {
		if !c.search(r, &c.recent.other) {
			return nil
		}
		return &c.recent.other
	}
	t := &c.recent.tags[r.recent]
	if t.is == notLookedUp {
		t.is = isUnknown
		if c.search(r, &t.means) {
			t.is = isKnown
		}
	}
	if t.is == isUnknown {
		return nil
	}
	return &t.means
}

// search is lookUp in the index itself.
func (c *reader) search(r *record, k *tagindex.Meaning) (ok bool) {
	x := c.fish.Index
	s := x.Find(r.tagKey, c.tag(r))
	if s != nil {
		*k = x.Meaning(s)
	}
	return s != nil
}
