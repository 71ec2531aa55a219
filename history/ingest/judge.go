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
			p := &c.at[r.place]
			if r.ms < p.open.From || r.ms >= p.open.To || r.ms < k.released || int(k.entry) >= p.site || k.special {
				r.rule = c.atPlace(r, k)
			}
			if c.passages != nil && r.rule == rule.None {
				r.rule = c.passages[int(k.fish)*c.rows+p.row]
			}
		}
	}
}

// placeNow is what most records of a place need of it, in little room.
type placeNow struct {
	// open is a time in which a fish with nothing special to it, released
	// farther up and before, is sighted as it should be.
	open      rule.Window
	site, row int
}

// atPlace judges a record of a known fish at a known place.
func (c *cases) atPlace(r *record, k *knownFish) rule.ID {
	p := &c.places.list[r.place]
	windows := p.windows
	if c.offWorking {
		windows = nil
	}
	if k.special {
		return rule.Record(r.ms, p.site, c.fish.special[k.fish], &c.season, windows)
	}
	if open, ok := c.season.Open(r.ms, windows); ok {
		c.at[r.place].open = open
	}
	fish := rule.Alive(k.released, int(k.entry))
	return rule.Record(r.ms, p.site, &fish, &c.season, windows)
}
