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
		if t.mayBe() && t.tagColumn() >= 0 && (t.timeColumn() >= 0 || t.kind() == Fish && t.releaseColumn() >= 0) {
			tagged = append(tagged, t)
		} else if what := t.needs(); what != "" {
			return fmt.Errorf("%s", what)
		}
	}
	if len(tagged) < 2 || slices.ContainsFunc(tagged, (*sample).tagIsText) {
		// One table of codes alone is that of the fish, whose readers write them
		// in a way that is not understood.
		text := g.textTags()
		alone := len(tagged) == 1 && g.measured(tagged[0]) && !slices.Contains(text, tagged[0])
		if len(text) >= 2 && !alone {
			tagged, g.text = text, true
			g.doubt("no column holds ISO 11784 codes; %q looks like the tag, as plain text", tagged[0].columns[g.tag(tagged[0])].name)
		}
	}
	if len(tagged) < 2 {
		return fmt.Errorf("a study needs a fish table and at least one table of sightings, each with a column of tags and one of times; of these %d have both: %s%s", len(tagged), g.whatTablesHold(), g.notRead())
	}
	scores := g.fishScores(tagged)
	score := func(t *sample) float64 { return scores[t] }
	slices.SortStableFunc(tagged, func(a, b *sample) int {
		return cmp.Or(cmp.Compare(a.rank(), b.rank()), cmp.Compare(score(b), score(a)))
	})
	g.fish, g.sightings = tagged[0], slices.Clone(tagged[1:])
	if g.fish.kind() == Sightings {
		return fmt.Errorf("a study needs a fish table; say which of the tables it is")
	}
	if spoilt := slices.IndexFunc(g.tables, func(t *sample) bool {
		return !slices.Contains(tagged, t) && t.whyNot() != "" && g.measured(t)
	}); spoilt >= 0 && !g.measured(g.fish) && !g.text && g.fish.kind() != Fish {
		t := g.tables[spoilt]
		return fmt.Errorf("%s looks like the fish table, but it has %s; put it right there, and begin anew", t.name, t.whyNot())
	}
	if c := &g.fish.columns[g.tag(g.fish)]; g.fish.kind() == Fish {
		if c.filled == 0 {
			return fmt.Errorf("%s: the column %q is empty; say which holds the tags", g.fish.name, c.name)
		}
	} else if c.spread() < 0.5 || c.spread() < once && !g.measured(g.fish) {
		var names []string
		for _, t := range tagged {
			names = append(names, t.name)
		}
		return fmt.Errorf("no table lists each tag once, as a fish table does: %s have their tags several times, as array files do; put the fish table beside them%s%s", strings.Join(names, ", "), g.fishWithoutTimes(), g.notRead())
	}
	g.moreFish()
	if err := g.wideTables(); err != nil {
		return err
	}
	g.addSiblings()
	if err := g.joinHalvesAndZones(ctx); err != nil {
		return err
	}
	g.askTwice()
	g.askCaught()
	if err := g.onlyFish(ctx); err != nil {
		return err
	}
	if err := g.releases(ctx, clock.Unsettled); err != nil {
		return err
	}
	for _, t := range g.sightings {
		g.meet(t)
	}
	if score(tagged[0])-score(tagged[1]) < 1 && g.fish.kind() != Fish && slices.Contains(g.sightings, tagged[1]) {
		g.doubt("%s is taken for the fish table, but %s looks much the same", tagged[0].name, tagged[1].name)
	}
	slices.SortFunc(g.sightings, func(a, b *sample) int { return history.NaturalCompare(a.name, b.name) })
	for _, t := range g.tables {
		if t != g.fish && !slices.Contains(g.sightings, t) && t.kind() != Recaptures {
			g.other = append(g.other, t.name)
			if why := t.whyNot(); why != "" {
				g.left = append(g.left, t.name+" ("+why+")")
			} else {
				g.left = append(g.left, t.name)
			}
		}
	}
	return nil
}

// fishWithoutTimes names the tables that would be that of the fish, had they times.
func (g *guess) fishWithoutTimes() (what string) {
	for _, t := range g.tables {
		if g.measured(t) && t.tagColumn() >= 0 && t.timeColumn() < 0 {
			what += fmt.Sprintf("; %s looks like it, but has no column of release times, only %s: add one", t.name, strings.Join(t.header, ", "))
		}
	}
	return what
}

// meet takes for the tags of an array file the column of codes with most of the
// fish: a number of the record may be as long as a tag, and never the same.
func (g *guess) meet(t *sample) {
	most := 0
	for i := range t.columns {
		n := 0
		if c := &t.columns[i]; c.mostly(c.tags) {
			for tag := range g.codes(c) {
				if g.isKnown(tag) {
					n++
				}
			}
		}
		if n > most {
			t.met, most = i+1, n
		}
	}
}

// tagIsText tells whether the column that the user says holds the tags holds no
// codes.
func (t *sample) tagIsText() bool {
	i, ok := t.told("tag")
	return ok && i >= 0 && t.columns[i].filled > 0 && !t.columns[i].mostly(t.columns[i].tags)
}

// rank puts the table that is said to be of the fish first, and those said to be
// of sightings last.
func (t *sample) rank() int {
	switch t.kind() {
	case Fish:
		return 0
	case Sightings:
		return 2
	}
	return 1
}

// measured tells whether a heading of a table is of what is known of fish only.
func (g *guess) measured(t *sample) bool {
	return slices.ContainsFunc(t.columns, func(c sampleColumn) bool { return hinted(c.name, fishWords) || hinted(c.name, releaseWords) })
}

// moreFish takes tables with what is known of fish only, that list other fish once
// each, out of the array files: the lists of other days, or crews.
func (g *guess) moreFish() {
	own := g.codes(&g.fish.columns[g.tag(g.fish)])
	var more []string
	g.sightings = slices.DeleteFunc(g.sightings, func(t *sample) bool {
		if t.kind() == Sightings || !g.measured(t) || t.columns[g.tag(t)].spread() < once {
			return false
		}
		met, codes := 0, g.codes(&t.columns[g.tag(t)])
		for tag := range codes {
			if own[tag] {
				met++
			}
		}
		if met*2 > len(codes) {
			return false
		}
		more = append(more, t.name)
		return true
	})
	if len(more) > 0 {
		slices.SortFunc(more, history.NaturalCompare)
		g.doubt("these are further fish tables, and their fish are missing: %s; a study has one fish table, so put their lines under those of %s in one file, and begin anew", strings.Join(more, ", "), g.fish.name)
	}
}

// onlyFish looks at the fish table again without the lines that are no fish,
// such as totals and units: a text among the numbers of a column would make it
// a category.
func (g *guess) onlyFish(ctx context.Context) error {
	t := g.fish
	tag, released := g.tag(t), t.releaseColumn()
	form, layout := tagindex.Form{Text: g.text}, t.layout(columns{time: released, date: -1}, clock.Unsettled)
	fish, err := takeRecords(ctx, t.file, fishRecords, func(fields []string) bool {
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
	fish.is(t)
	g.tables[slices.Index(g.tables, t)], g.fish = fish, fish
	return nil
}

// fishScores says how much each table looks like that of the fish: each tag once, the
// tags of the others among its own, measures of fish, none of readers.
func (g *guess) fishScores(tagged []*sample) map[*sample]float64 {
	codes, tables, all := map[*sample]map[string]bool{}, map[string]int{}, 0
	for _, t := range tagged {
		codes[t] = g.codes(&t.columns[g.tag(t)])
		all += len(codes[t])
		for tag := range codes[t] {
			tables[tag]++
		}
	}
	scores := map[*sample]float64{}
	for _, t := range tagged {
		met := 0 // of the tags of the others
		for tag := range codes[t] {
			met += tables[tag] - 1
		}
		scores[t] = g.lookScore(t) + 4*float64(met)/float64(max(1, all-len(codes[t])))
	}
	return scores
}

// lookScore is the part of [guess.fishScores] that is of the table alone.
func (g *guess) lookScore(t *sample) float64 {
	tags := &t.columns[g.tag(t)]
	s := 3 * (2*tags.spread() - 1)
	for i := range t.columns {
		c := &t.columns[i]
		switch {
		case i == g.tag(t):
		case hinted(c.name, fishWords) || hinted(c.name, releaseWords):
			s++
		case hinted(c.name, antennaWords) || hinted(c.name, readerWords):
			s -= 2
		}
		if i != g.tag(t) && c.mostly(c.numbers) && !c.isTime() && len(c.values) > 10 && !hinted(c.name, readerWords) {
			s += 0.5
		}
	}
	return s
}

// releases reads when the fish were released, by their tags, of which a fish may
// have two.
func (g *guess) releases(ctx context.Context, order clock.Order) error {
	t := g.fish
	g.known = map[string]int64{}
	tag, released := g.tag(t), t.releaseColumn()
	col := columns{tag: tag, time: released, date: -1}
	if of := t.clockOf(released, true); of >= 0 {
		col.date, col.time = released, of
	}
	second, form, layout := g.secondTag(tag), tagindex.Form{Text: g.text}, t.layout(col, order)
	b, err := table.OpenBlocks(ctx, t.file, false)
	if err != nil {
		return err
	}
	defer b.Close()
	return eachRecord(ctx, b, func(fields []string, _ int) bool {
		ms, _ := col.when(fields, layout)
		for _, i := range []int{tag, second} {
			if i >= 0 && !table.IsMissing(strings.TrimSpace(fields[i])) {
				if code, _, err := form.Canonical(fields[i]); err == nil {
					g.known[code] = ms
				}
			}
		}
		return len(g.known) < 2*fishRecords
	})
}

// fishRecords is how many records of the fish table are looked at.
const fishRecords = 200_000

// textTags are the tables that share the values of a column, which could be a
// tag in plain text: of all pairs of columns of two tables that of most shared
// values.
func (g *guess) textTags() []*sample {
	var out []*sample
	for _, t := range g.tables {
		t.textTag = -1
		most := 1
		for _, u := range g.tables {
			if u == t || t.timeColumn() < 0 || u.timeColumn() < 0 || !t.mayBe() || !u.mayBe() {
				continue
			}
			for i := range t.columns {
				if told, ok := t.told("tag"); ok && told != i {
					continue
				}
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
