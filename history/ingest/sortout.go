package ingest

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
)

// fishBuilder sorts the records of the table out.
type fishBuilder struct {
	f       *fishTable
	st      *study.Study
	tags    tagReader
	records []fishRecord
	texts   []string // the tags, where they are text
	name    string
	aliases map[uint64]string // second tag → first tag, as shown
	touched uint64            // keeps what fetches memory from being left out as idle
}

func (b *fishBuilder) count(id, message, advice string, lines []int) {
	if len(lines) == 0 {
		return
	}
	shown := make([]string, 0, 6)
	for _, l := range lines[:min(6, len(lines))] {
		shown = append(shown, fmt.Sprint(l))
	}
	where := "line " + strings.Join(shown, ", ")
	if len(lines) > len(shown) {
		where += ", …"
	}
	b.f.findings = append(b.f.findings, finding{
		Finding: history.Finding{ID: id, Count: int64(len(lines)), Message: fmt.Sprintf(message, len(lines), where), Advice: advice,
			Example: fmt.Sprintf("%s:%d", b.name, lines[0])},
		impact: float64(len(lines)) / float64(len(b.records)),
	})
}

// sortOut finds the records that are no released fish of their own.
func (b *fishBuilder) sortOut(released []int64, season rule.Season) error {
	var faults history.Faults
	b.aliases = map[uint64]string{}
	for _, second := range sortedKeys(b.st.Fish.Aliases) {
		first := b.st.Fish.Aliases[second]
		tag, key, err := b.tags.canonical(second)
		firstTag, _, err2 := b.tags.canonical(first)
		if err = cmp.Or(err, err2); err != nil {
			faults.Add(b.st.Fish.AliasesPos, "aliases: %q = %q: %v", second, first, err)
			continue
		}
		if tag == firstTag {
			faults.Add(b.st.Fish.AliasesPos, "aliases: %q stands for itself", second)
			continue
		}
		b.aliases[key] = firstTag
	}
	var shared, copies, twice, died, shed, later []int
	for _, group := range b.sameTags(released) {
		first := &b.records[group[0]]
		differ := slices.ContainsFunc(group, func(i int32) bool { return b.records[i].hash != first.hash })
		for n, i := range group {
			r := &b.records[i]
			switch {
			case differ:
				r.out = rule.SharedTag
				shared = append(shared, int(r.line))
			case n > 0:
				r.same = true
				copies = append(copies, int(r.line))
			}
		}
	}
	for i := range b.records {
		r := &b.records[i]
		if r.out != rule.None || r.same {
			continue
		}
		switch {
		case b.aliases[r.key] != "":
			r.twice = true
			twice = append(twice, int(r.line))
		case r.died:
			r.out = rule.Died
			died = append(died, int(r.line))
		case r.shedNow:
			r.out = rule.Shed
			shed = append(shed, int(r.line))
		case !season.Counts(released[i]):
			r.later = true
			later = append(later, int(r.line))
		}
	}
	for _, l := range [][]int{shared, copies} {
		slices.Sort(l)
	}
	b.count("shared_tag", "%d fish share a tag with another (%s); they are left out", "correct the fish table, or take out the fish whose tag was used again", shared)
	b.count("copied_fish", "%d records of the fish table are copies of an earlier one (%s); each fish counts once", "take the copies out", copies)
	b.count("tagged_twice", "%d fish are listed as tagged twice (%s); they count once, under their first tag", "", twice)
	b.count("died_before_release", "%d fish died before release (%s); they are not counted as released", "", died)
	b.count("shed_before_release", "%d fish shed their tag before release (%s); they are not counted as released", "", shed)
	b.count("released_later", "%d fish were released after as_of or last_day (%s); they do not count yet", "", later)
	return faults.Err()
}

// sameTags are the records that share a tag, two or more together, in the
// order of the table. On the way every tag is put into the index, standing for
// its first record.
func (b *fishBuilder) sameTags(released []int64) [][]int32 {
	st := b.st
	x := newTagIndex(len(b.records)+len(b.aliases)+len(st.Rules.TestTags)+len(st.Rules.GhostTags), b.tags.text, slices.Min(released))
	b.f.index = x
	group := map[int32]int{} // by the first record
	var out [][]int32
	for from := 0; from < len(b.records); from += batchSize {
		few := b.records[from:min(from+batchSize, len(b.records))]
		// The slots of all are fetched from memory before the first is looked at.
		for i := range few {
			b.touched += x.slots[x.place(few[i].key)].bits
		}
		for i := range few {
			r, n := &few[i], int32(from+i)
			text := b.text(n)
			s := x.find(r.key, []byte(text))
			if s == nil {
				x.set(x.put(r.key, text), knownFish{fish: n, released: released[n], entry: r.entry})
				continue
			}
			g, ok := group[s.fish]
			if !ok {
				g = len(out)
				group[s.fish] = g
				out = append(out, []int32{s.fish})
			}
			out[g] = append(out[g], n)
		}
	}
	return out
}

// index makes every tag findable: the kept fish by their place in the
// histories, then those left out, aliases and listed tags.
func (b *fishBuilder) index(keep []int32, released, removedEnd, shedEnd []int64, season rule.Season) error {
	f, st, x := b.f, b.st, b.f.index
	var faults history.Faults
	b.number(keep)
	// slot is where the tag of a record stands.
	slot := func(i int32) *tagSlot { return x.find(b.records[i].key, []byte(b.text(i))) }
	for i, k := range keep {
		r := &b.records[k]
		special := r.removed >= 0 || r.site >= 0 || r.shed >= 0 || !x.holds(released[k])
		if !special {
			continue // it stands in the index as it should
		}
		fish := rule.Alive(released[k], int(r.entry))
		x.set(slot(k), knownFish{fish: int32(i), entry: r.entry, special: true})
		f.special[int32(i)] = &fish
		if r.removed >= 0 {
			fish.RemovedAt = removedEnd[r.removed]
			if fish.RemovedAt < fish.Released {
				faults.Add(history.Pos{File: st.Fish.File, Line: int(r.line)}, "removed before it was released")
			}
		}
		fish.RemovedSite = int(r.site)
		if r.shed >= 0 {
			fish.ShedAt = shedEnd[r.shed]
			f.flags[i] |= ShedLater
		}
		// A removal still to come is none yet.
		if fish.RemovedAt != math.MaxInt64 && !season.Counts(fish.RemovedAt) {
			fish.RemovedAt, fish.RemovedSite = math.MaxInt64, -1
		} else if r.removed >= 0 || r.site >= 0 {
			f.removal = append(f.removal, removal{fish: int32(i), line: int(r.line), site: int(r.site)})
		}
	}
	for i := range b.records {
		r := &b.records[i]
		switch {
		case r.twice:
			slot(int32(i)).fish = -1 // still to be said
		case r.leftOut():
			s := slot(int32(i))
			k := knownFish{fish: int32(f.known), released: released[i], entry: r.entry}
			f.known++
			switch {
			case r.out == rule.SharedTag || r.out == rule.Died:
				k.rule = r.out
			case r.out == rule.Shed || !x.holds(released[i]):
				fish := rule.Alive(released[i], int(r.entry))
				if r.out == rule.Shed {
					fish.ShedAt = math.MinInt64
				}
				k.special = true
				f.special[k.fish] = &fish
			}
			x.set(s, k)
		}
	}
	b.indexAliases(len(keep), &faults)
	b.indexListed(st.Rules.TestTags, st.Rules.TestTagsPos, "test_tags", rule.TestTag, len(keep), &faults)
	b.indexListed(st.Rules.GhostTags, st.Rules.GhostTagsPos, "ghost_tags", rule.Ghost, len(keep), &faults)
	return faults.Err()
}

// leftOut tells whether a record is of a fish with a tag of its own that is not
// among the histories.
func (r *fishRecord) leftOut() bool {
	return !r.same && !r.twice && (r.out != rule.None || r.later)
}

// number makes the tags of the kept fish stand for their places in the
// histories instead of the table.
func (b *fishBuilder) number(keep []int32) {
	b.f.known = len(keep)
	if len(keep) == len(b.records) {
		return
	}
	to := make([]int32, len(b.records))
	for i, k := range keep {
		to[k] = int32(i)
	}
	b.f.index.renumber(to)
}

// indexAliases lets second tags stand for what the first do; the histories have
// kept fish.
func (b *fishBuilder) indexAliases(kept int, faults *history.Faults) {
	f, st, x := b.f, b.st, b.f.index
	for _, second := range sortedKeys(st.Fish.Aliases) {
		tag, key, _ := b.tags.canonical(second)
		firstTag, firstKey, _ := b.tags.canonical(st.Fish.Aliases[second])
		first := x.find(firstKey, []byte(firstTag))
		if first == nil || first.fish < 0 {
			faults.Add(st.Fish.AliasesPos, "aliases: the first tag %s is no fish of %s", firstTag, st.Fish.Written)
			continue
		}
		s := x.find(key, []byte(tag))
		if s == nil {
			s = x.put(key, tag)
		} else if s.fish >= 0 {
			continue // listed twice in two forms, or shared by two fish
		}
		x.set(s, x.known(first))
		if int(first.fish) < kept {
			f.flags[first.fish] |= TaggedTwice
		}
	}
}

// indexListed puts in the test tags or ghost tags that the study lists.
func (b *fishBuilder) indexListed(list []string, pos study.Pos, what string, id rule.ID, kept int, faults *history.Faults) {
	f, x := b.f, b.f.index
	for _, written := range list {
		tag, key, err := b.tags.canonical(written)
		if err != nil {
			faults.Add(pos, "%s: %q: %v", what, written, err)
			continue
		}
		s := x.find(key, []byte(tag))
		if s == nil {
			x.set(x.put(key, tag), knownFish{fish: int32(f.known), released: x.base, rule: id})
			f.known++
			continue
		}
		switch k := x.known(s); {
		case id == rule.TestTag && k.rule != rule.TestTag:
			faults.Add(pos, "%s: %s is a fish of %s", what, tag, b.st.Fish.Written)
		case id == rule.Ghost && k.rule == rule.None:
			k.rule = id
			x.set(s, k)
			if int(k.fish) < kept {
				f.flags[k.fish] |= GhostTag
			}
		}
	}
}

// kept are the fish that were released, in the order of the table.
func (b *fishBuilder) kept() []int32 {
	keep := make([]int32, 0, len(b.records))
	for i := range b.records {
		if r := &b.records[i]; !r.same && !r.twice && !r.leftOut() {
			keep = append(keep, int32(i))
		}
	}
	return keep
}

// text is a record's tag, where tags are text; else "".
func (b *fishBuilder) text(i int32) string {
	if b.texts == nil {
		return ""
	}
	return b.texts[i]
}

// packTags gives the tags of the kept fish as parts of one string: a string
// each would cost as much again in headers.
func (b *fishBuilder) packTags(keep []int32) []string {
	if b.texts != nil {
		return pick(b.texts, keep)
	}
	digits := make([]byte, 0, 15*len(keep))
	for _, k := range keep {
		digits = tagcode.Code(b.records[k].key).Append(digits)
	}
	all := string(digits)
	out := make([]string, len(keep))
	for i := range out {
		out[i] = all[15*i : 15*i+15]
	}
	return out
}
