package propose

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// roles tells the fish table from the array files.
func (g *guess) roles(ctx context.Context) error {
	var tagged []*sample
	for _, t := range g.tables {
		if t.tagColumn() >= 0 && t.timeColumn() >= 0 {
			tagged = append(tagged, t)
		}
	}
	if len(tagged) < 2 {
		if text := g.textTags(); len(text) >= 2 {
			tagged, g.text = text, true
			g.doubt("no column holds ISO 11784 codes; %q looks like the tag, as plain text", tagged[0].columns[g.tag(tagged[0])].name)
		}
	}
	if len(tagged) < 2 {
		var found []string
		for _, t := range g.tables {
			what := "neither"
			switch tag, time := t.tagColumn() >= 0, t.timeColumn() >= 0; {
			case tag && time:
				what = "both"
			case tag:
				what = "no times"
			case time:
				what = "no tags"
			}
			found = append(found, fmt.Sprintf("%s (%s)", t.name, what))
		}
		return fmt.Errorf("a study needs a fish table and at least one table of sightings, each with a column of tags and one of times; of these %d have both: %s%s", len(tagged), strings.Join(found, ", "), g.notRead())
	}
	score := func(t *sample) float64 {
		tags := &t.columns[g.tag(t)]
		s := 3 * (2*float64(len(tags.values))/float64(max(1, tags.filled)) - 1) // each fish once
		for i := range t.columns {
			c := &t.columns[i]
			if i != g.tag(t) && c.mostly(c.numbers) && !c.isTime() && len(c.values) > 10 {
				s++
			}
			if named(c.name, "length", "weight", "species", "released", "cohort", "removed") {
				s++
			}
			if named(c.name, "antenna", "reader", "array") {
				s -= 2
			}
		}
		return s
	}
	slices.SortStableFunc(tagged, func(a, b *sample) int { return cmp.Compare(score(b), score(a)) })
	g.fish, g.sightings = tagged[0], tagged[1:]
	if err := g.onlyFish(ctx); err != nil {
		return err
	}
	g.known = map[string]bool{}
	form := tagindex.Form{Text: g.text}
	for written := range g.fish.columns[g.tag(g.fish)].values {
		if tag, _, err := form.Canonical(written); err == nil {
			g.known[tag] = true
		}
	}
	if score(tagged[0])-score(tagged[1]) < 1 {
		g.doubt("%s is taken for the fish table, but %s looks much the same", tagged[0].name, tagged[1].name)
	}
	slices.SortFunc(g.sightings, func(a, b *sample) int { return history.NaturalCompare(a.name, b.name) })
	for _, t := range g.tables {
		if t != g.fish && !slices.Contains(g.sightings, t) {
			g.other = append(g.other, t.name)
		}
	}
	return nil
}

// onlyFish looks at the fish table again without the lines that are no fish,
// such as totals and units: a text among the numbers of a column would make it
// a category.
func (g *guess) onlyFish(ctx context.Context) error {
	t := g.fish
	tag, released := g.tag(t), t.releaseColumn()
	form, layout := tagindex.Form{Text: g.text}, t.layout(columns{time: released, date: -1}, clock.Unsettled)
	fish, err := takeSample(ctx, t.file, func(fields []string) bool {
		if _, _, err := form.Canonical(fields[tag]); err == nil && !g.text && !table.IsMissing(strings.TrimSpace(fields[tag])) {
			return true
		}
		_, fault := layout.Parse([]byte(strings.TrimSpace(fields[released])))
		return fault == clock.OK
	})
	if err != nil {
		return err
	}
	fish.textTag = t.textTag
	g.tables[slices.Index(g.tables, t)], g.fish = fish, fish
	return nil
}

// secondTag is the column of the fish table with second tags; -1 where there is
// none.
func (g *guess) secondTag(tag int) int {
	return slices.IndexFunc(g.fish.columns, func(c sampleColumn) bool {
		return !g.text && c.name != g.fish.columns[tag].name && c.mostly(c.tags) && len(c.values) == c.filled
	})
}

func (g *guess) tag(t *sample) int {
	if g.text {
		return t.textTag
	}
	return t.tagColumn()
}

// textTags are the tables that share the values of a column, which could be a
// tag in plain text: of all pairs of columns of two tables that of most shared
// values.
func (g *guess) textTags() []*sample {
	var out []*sample
	for _, t := range g.tables {
		t.textTag = -1
		most := 1
		for _, u := range g.tables {
			if u == t || t.timeColumn() < 0 || u.timeColumn() < 0 {
				continue
			}
			for i := range t.columns {
				for k := range u.columns {
					if n := shared(&t.columns[i], &u.columns[k]); n > most {
						t.textTag, most = i, n
					}
				}
			}
		}
		if t.textTag >= 0 {
			out = append(out, t)
		}
	}
	return out
}
