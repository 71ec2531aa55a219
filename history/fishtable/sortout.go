package fishtable

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
	"example.org/unseen/history/tagindex"
)

// builder sorts the records of the table out.
type builder struct {
	f       *Table
	st      *study.Study
	form    tagindex.Form
	records []record
	texts   []string          // the tags, where they are text
	pairs   map[string]string // second tag → first tag, as written
	aliases map[uint64]string // second tag → first tag, as shown
	fetched uint64            // of [tagindex.Index.Fetch]
}

func (b *builder) count(id, message, advice string, lines []int) {
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
	b.f.Findings = append(b.f.Findings, history.Finding{
		ID: id, Count: int64(len(lines)), Message: history.Say(message, len(lines), where), Advice: advice,
		Example: fmt.Sprintf("%s:%d", b.st.Fish.Written, lines[0]), Impact: float64(len(lines)) / float64(len(b.records)),
	})
}

// sortOut finds the records that are no released fish of their own.
func (b *builder) sortOut(released []int64, season rule.Season) error {
	var faults history.Faults
	b.aliases = map[uint64]string{}
	for _, second := range slices.Sorted(maps.Keys(b.pairs)) {
		first := b.pairs[second]
		tag, key, err := b.form.Canonical(second)
		firstTag, _, err2 := b.form.Canonical(first)
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

// fewRecords is how many records are looked up together.
const fewRecords = 64

// sameTags are the records that share a tag, two or more together, in the
// order of the table. On the way every tag is put into the index, standing for
// its first record.
func (b *builder) sameTags(released []int64) [][]int32 {
	st := b.st
	x := tagindex.New(len(b.records)+len(b.aliases)+len(st.Rules.TestTags)+len(st.Rules.GhostTags), b.form.Text, slices.Min(released))
	b.f.Index = x
	group := map[int32]int{} // by the first record
	var out [][]int32
	for from := 0; from < len(b.records); from += fewRecords {
		few := b.records[from:min(from+fewRecords, len(b.records))]
		// The slots of all are fetched from memory before the first is looked at.
		for i := range few {
			b.fetched += x.Fetch(few[i].key)
		}
		for i := range few {
			r, n := &few[i], int32(from+i)
			text := b.text(n)
			s := x.Find(r.key, []byte(text))
			if s == nil {
				x.Set(x.Put(r.key, text), tagindex.Meaning{Fish: n, Released: released[n], Entry: r.entry})
				continue
			}
			g, ok := group[s.Fish()]
			if !ok {
				g = len(out)
				group[s.Fish()] = g
				out = append(out, []int32{s.Fish()})
			}
			out[g] = append(out[g], n)
		}
	}
	return out
}

// leftOut tells whether a record is of a fish with a tag of its own that is not
// among the histories.
func (r *record) leftOut() bool {
	return !r.same && !r.twice && (r.out != rule.None || r.later)
}

// kept are the fish that were released, in the order of the table.
func (b *builder) kept() []int32 {
	keep := make([]int32, 0, len(b.records))
	for i := range b.records {
		if r := &b.records[i]; !r.same && !r.twice && !r.leftOut() {
			keep = append(keep, int32(i))
		}
	}
	return keep
}

// text is a record's tag, where tags are text; else "".
func (b *builder) text(i int32) string {
	if b.texts == nil {
		return ""
	}
	return b.texts[i]
}

// packTags gives the tags of the kept fish as parts of one string: a string
// each would cost as much again in headers.
func (b *builder) packTags(keep []int32) []string {
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

// countAside reports the lines set aside.
func (b *builder) countAside(a aside) {
	b.count("no_tag", "records of the fish table without a tag: %d (%s); they are not counted as released", "give the fish its tag if it had one", a.noTag)
	n := len(b.f.Findings)
	b.count("no_fish", "lines of the fish table that are no fish, as totals, units, titles or headings: %d (%s); they are passed over", "", a.noFish)
	b.count("empty_line", "empty lines of the fish table: %d (%s); they are passed over", "", a.empty)
	for i := range b.f.Findings[n:] {
		b.f.Findings[n+i].Impact = 0 // no fish is lost
	}
}

// pick are the values of the records that are kept.
func pick[T any](all []T, keep []int32) []T {
	if len(all) == len(keep) {
		return all
	}
	out := make([]T, len(keep))
	for i, k := range keep {
		out[i] = all[k]
	}
	return out
}
