package propose

import (
	"slices"
	"strings"
)

// taken are the tables with what they were taken for, as far as that is known.
func (g *guess) taken() []Taken {
	out := slices.Clone(g.failed)
	for _, t := range g.tables {
		x := Taken{Name: t.name, File: t.file.Name, Path: t.file.Path, Kind: Unused, Header: t.header, Reading: t.reading, Records: t.records,
			Columns: map[string]string{}}
		name := func(role string, i int) {
			if i >= 0 && i < len(t.header) {
				x.Columns[role] = t.header[i]
			}
		}
		switch {
		case t == g.fish:
			x.Kind, x.Order = Fish, g.fishDates.order
			released := t.releaseColumn()
			name("tag", g.tag(t))
			name("released", released)
			if released >= 0 {
				x.TimeZone, _ = t.zone(g.fishColumns())
				name("clock", t.clockOf(released, true))
			}
			name("site", t.named("site"))
			name("removed", t.named("removed"))
			if i := g.removedColumn(); i >= 0 {
				name("removed", i)
			}
			name("second_tag", g.secondTag(g.tag(t)))
			if c, sure := g.cohortColumn(); sure {
				x.Columns["cohort"] = c
			}
		case slices.Contains(g.sightings, t):
			x.Kind = Sightings
			c, ok := g.columns[t]
			if !ok { // the proposal came not that far
				c = columns{tag: g.tag(t), time: t.timeColumn(), site: -1, antenna: -1, date: -1}
			}
			name("tag", c.tag)
			name("time", c.time)
			if c.date >= 0 {
				name("time", c.date)
				name("clock", c.time)
			}
			name("site", c.site)
			name("antenna", c.antenna)
			x.Site = g.places[t]
			x.TimeZone, _ = t.zone(c)
			x.Order = g.orders[t]
		case t.kind() == Recaptures:
			x.Kind = Recaptures
			for role, i := range t.recaptured() {
				name(role, i)
			}
		default:
			x.Why = t.whyNot()
			name("tag", t.tagColumn())
			name("time", t.timeColumn())
		}
		out = append(out, x)
	}
	order := []Kind{Fish, Sightings, Recaptures, Unused}
	slices.SortStableFunc(out, func(a, b Taken) int { return slices.Index(order, a.Kind) - slices.Index(order, b.Kind) })
	return out
}

// recaptured are the columns of a table of recaptures.
func (t *sample) recaptured() map[string]int {
	out := map[string]int{"tag": t.tagColumn(), "date": t.bestTime(false), "length_mm": -1, "weight_g": -1, "site": t.named("site")}
	for i := range t.columns {
		c := &t.columns[i]
		switch {
		case !c.mostly(c.numbers):
		case out["weight_g"] < 0 && hinted(c.name, weightWords):
			out["weight_g"] = i
		case out["length_mm"] < 0 && i != out["weight_g"] && hinted(c.name, lengthWords):
			out["length_mm"] = i
		}
	}
	for role := range out {
		if i, ok := t.told(role); ok {
			out[role] = i
		}
	}
	return out
}

// cohortColumn is the column that is the release group, as the user or its name
// says, "" for none; ok tells whether one of them does.
func (g *guess) cohortColumn() (name string, ok bool) {
	if i, ok := g.fish.told("cohort"); ok {
		if i < 0 {
			return "", true
		}
		return g.fish.header[i], true
	}
	cohorts := g.cohorts()
	if i := slices.IndexFunc(cohorts, func(s string) bool { return named(s, "cohort", "week", "group") }); i >= 0 {
		return cohorts[i], true
	}
	return "", false
}

// cohorts are the columns of the fish table that may be release groups.
func (g *guess) cohorts() (out []string) {
	t := g.fish
	tag, released := g.tag(t), t.releaseColumn()
	clock, second := t.clockOf(released, true), g.secondTag(tag)
	for i := range t.columns {
		c := &t.columns[i]
		if i == tag || i == released || i == clock || i == second || c.name == "" {
			continue
		}
		if n := len(c.values); n >= 2 && n <= 50 && c.filled == t.records && n*5 <= c.filled && !c.isTime() && c.name != "removed" && c.name != "died" && c.name != "shed" {
			out = append(out, c.name)
		}
	}
	return out
}

// measurePairs are the names that growth looks for, with the columns of the fish
// table that are called otherwise.
func (t *sample) measurePairs() (pairs []string) {
	for _, x := range []struct {
		ours  string
		words []string
	}{{"length_mm", lengthWords}, {"weight_g", weightWords}} {
		if slices.ContainsFunc(t.columns, func(c sampleColumn) bool { return strings.HasSuffix(c.name, x.ours) }) {
			continue
		}
		if i := slices.IndexFunc(t.columns, func(c sampleColumn) bool {
			return c.mostly(c.numbers) && hinted(c.name, x.words)
		}); i >= 0 {
			pairs = append(pairs, x.ours+" = "+t.called(i))
		}
	}
	return pairs
}

// removedColumn is a column whose heading says that fish were taken out and that
// holds, where it is filled, names of sites as the study has them; -1 where there is
// none.
func (g *guess) removedColumn() int {
	i := g.likelyRemoved()
	if i < 0 || !hinted(g.fish.columns[i].name, removedWords) {
		return -1
	}
	for name := range g.fish.columns[i].values {
		if !slices.ContainsFunc(g.sites, func(s *guessedSite) bool { return s.name == name }) {
			return -1
		}
	}
	return i
}

// likelyRemoved is a column of the fish table, filled for less than half of the
// fish, that holds the names of sites, written more or less alike: those where
// fish were taken out. It is -1 where there is none, or one is called removed.
func (g *guess) likelyRemoved() int {
	t := g.fish
	if _, ok := t.told("removed"); ok || slices.Contains(t.header, "removed") {
		return -1
	}
	isSite := func(name string) bool {
		f := fold(name)
		return f != "" && slices.ContainsFunc(g.sites, func(s *guessedSite) bool {
			site := fold(s.name)
			return strings.Contains(f, site) || strings.Contains(site, f)
		})
	}
	return slices.IndexFunc(t.columns, func(c sampleColumn) bool {
		if c.filled == 0 || 2*c.filled >= t.records || c.numbers > 0 {
			return false
		}
		for name := range c.values {
			if !isSite(name) {
				return false
			}
		}
		return true
	})
}
