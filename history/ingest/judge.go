package ingest

import (
	"example.org/unseen/history/rule"
)

// judge knows all that is needed to say what becomes of a record. It is read
// by many workers at once.
type judge struct {
	tags   tagReader
	fish   *fishTable
	places *places
	season rule.Season
	off    rule.Off
	rows   int // numbered rows of the river

	offWorking bool
	// Set after all records were merged: tags that turned out to be test
	// tags, and passages that a passage rule sets aside, by fish*rows+row.
	tests    map[uint64]bool
	passages map[int]rule.ID
}

// decide judges records that were read: the rules from TestTag on.
func (c *cases) decide(recs []record) {
	for i := range recs {
		r := &recs[i]
		if r.rule != rule.None {
			continue
		}
		k := c.lookUp(r)
		if k == nil {
			r.rule = rule.UnknownTag
			if c.tests != nil && c.tests[r.tagKey] {
				r.rule = rule.TestTag
			}
			continue
		}
		r.fish = k.fish
		switch {
		case k.rule != rule.None:
			r.rule = k.rule
		case r.place == unknownAntenna:
			r.rule = rule.UnknownAntenna
		case r.place < 0:
			r.rule = rule.UnknownSite
		default:
			r.rule = c.atPlace(r, k)
		}
	}
}

// atPlace judges a record of a known fish at a known place.
func (c *cases) atPlace(r *record, k *knownFish) rule.ID {
	p := &c.places.list[r.place]
	windows := p.windows
	if c.offWorking {
		windows = nil
	}
	fish := &c.alive
	if k.special {
		fish = c.fish.special[k.fish]
	} else {
		fish.Released, fish.Entry = k.released, int(k.entry)
	}
	id := rule.Record(r.ms, p.site, fish, &c.season, windows)
	if id == rule.None && c.passages != nil {
		id = c.passages[int(k.fish)*c.rows+p.row]
	}
	return id
}
