package fishtable

import (
	"maps"
	"math"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagindex"
)

// index makes every tag findable: the kept fish by their place in the
// histories, then those left out, aliases and listed tags.
func (b *builder) index(keep []int32, released, removedEnd, shedEnd []int64, season rule.Season) error {
	var faults history.Faults
	rules := b.st.Rules
	b.number(keep)
	b.indexKept(keep, released, removedEnd, shedEnd, season, &faults)
	b.indexLeftOut(released)
	b.indexAliases(len(keep), &faults)
	b.indexListed(rules.TestTags, rules.TestTagsPos, "test_tags", rule.TestTag, len(keep), &faults)
	b.indexListed(rules.GhostTags, rules.GhostTagsPos, "ghost_tags", rule.Ghost, len(keep), &faults)
	return faults.Err()
}

// slot is where the tag of a record stands in the index.
func (b *builder) slot(i int32) *tagindex.Slot {
	return b.f.Index.Find(b.records[i].key, []byte(b.text(i)))
}

// indexKept notes which of the kept fish are special; the others stand in the
// index as they should.
func (b *builder) indexKept(keep []int32, released, removedEnd, shedEnd []int64, season rule.Season, faults *history.Faults) {
	f, x := b.f, b.f.Index
	for i, k := range keep {
		r := &b.records[k]
		if r.removed < 0 && r.site < 0 && r.shed < 0 && x.Holds(released[k]) {
			continue
		}
		fish := rule.Alive(released[k], int(r.entry))
		x.Set(b.slot(k), tagindex.Meaning{Fish: int32(i), Entry: r.entry, Special: true})
		f.Special[int32(i)] = &fish
		if r.removed >= 0 {
			fish.RemovedAt = removedEnd[r.removed]
			if fish.RemovedAt < fish.Released {
				faults.Add(history.Pos{File: b.st.Fish.File, Line: int(r.line)}, "removed before it was released")
			}
		}
		fish.RemovedSite = int(r.site)
		if r.shed >= 0 {
			fish.ShedAt = shedEnd[r.shed]
			f.Flags[i] |= history.ShedLater
		}
		// A removal still to come is none yet.
		if fish.RemovedAt != math.MaxInt64 && !season.Counts(fish.RemovedAt) {
			fish.RemovedAt, fish.RemovedSite = math.MaxInt64, -1
		} else if r.removed >= 0 || r.site >= 0 {
			f.removals = append(f.removals, removal{fish: int32(i), line: int(r.line), site: int(r.site)})
		}
	}
}

// indexLeftOut says what the tags of fish stand for that are not among the
// histories.
func (b *builder) indexLeftOut(released []int64) {
	f, x := b.f, b.f.Index
	for i := range b.records {
		r := &b.records[i]
		if r.twice {
			x.Set(b.slot(int32(i)), tagindex.Meaning{Fish: -1}) // its alias says it
		}
		if !r.leftOut() {
			continue
		}
		k := tagindex.Meaning{Fish: int32(f.Known), Released: released[i], Entry: r.entry}
		f.Known++
		switch {
		case r.out == rule.SharedTag || r.out == rule.Died:
			k.Rule = r.out
		case r.out == rule.Shed || !x.Holds(released[i]):
			fish := rule.Alive(released[i], int(r.entry))
			if r.out == rule.Shed {
				fish.ShedAt = math.MinInt64
			}
			k.Special = true
			f.Special[k.Fish] = &fish
		}
		x.Set(b.slot(int32(i)), k)
	}
}

// number makes the tags of the kept fish stand for their places in the
// histories instead of the table.
func (b *builder) number(keep []int32) {
	b.f.Known = len(keep)
	if len(keep) == len(b.records) {
		return
	}
	to := make([]int32, len(b.records))
	for i, k := range keep {
		to[k] = int32(i)
	}
	b.f.Index.Renumber(to)
}

// indexAliases lets second tags stand for what the first do; the histories have
// kept fish.
func (b *builder) indexAliases(kept int, faults *history.Faults) {
	f, st, x := b.f, b.st, b.f.Index
	for _, second := range slices.Sorted(maps.Keys(b.pairs)) {
		tag, key, _ := b.form.Canonical(second)
		firstTag, firstKey, _ := b.form.Canonical(b.pairs[second])
		first := x.Find(firstKey, []byte(firstTag))
		if first == nil || first.Fish() < 0 {
			faults.Add(st.Fish.AliasesPos, "aliases: the first tag %s is no fish of %s", firstTag, st.Fish.Written)
			continue
		}
		s := x.Find(key, []byte(tag))
		if s == nil {
			s = x.Put(key, tag)
		} else if s.Fish() >= 0 {
			continue // listed twice in two forms, or shared by two fish
		}
		x.Set(s, x.Meaning(first))
		if int(first.Fish()) < kept {
			f.Flags[first.Fish()] |= history.TaggedTwice
		}
	}
}

// indexListed puts in the test tags or ghost tags that the study lists.
func (b *builder) indexListed(list []string, pos study.Pos, what string, id rule.ID, kept int, faults *history.Faults) {
	f, x := b.f, b.f.Index
	for _, written := range list {
		tag, key, err := b.form.Canonical(written)
		if err != nil {
			faults.Add(pos, "%s: %q: %v", what, written, err)
			continue
		}
		s := x.Find(key, []byte(tag))
		if s == nil {
			x.Set(x.Put(key, tag), tagindex.Meaning{Fish: int32(f.Known), Rule: id})
			f.Known++
			continue
		}
		switch k := x.Meaning(s); {
		case id == rule.TestTag && k.Rule != rule.TestTag:
			faults.Add(pos, "%s: %s is a fish of %s", what, tag, b.st.Fish.Written)
		case id == rule.Ghost && k.Rule == rule.None:
			k.Rule = id
			x.Set(s, k)
			if int(k.Fish) < kept {
				f.Flags[k.Fish] |= history.GhostTag
			}
		}
	}
}
