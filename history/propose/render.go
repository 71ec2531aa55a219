package propose

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
)

// render writes the study file; on the way it notes what is in doubt.
func (g *guess) render() *Proposal {
	b := &text{}
	g.askHeaders()
	g.renderTop(b)
	g.renderFish(b)
	g.renderSightings(b)
	g.renderRecaptures(b)
	g.renderSites(b)
	g.renderModel(b)
	if len(g.sites) > 1 && !g.kmKnown {
		g.ask("site", "the order of the sites is guessed from which of them detects a fish first: %s", siteList(g.sites))
	}
	if len(g.other) > 0 {
		g.doubt("not used: %s", strings.Join(g.left, ", "))
	}
	if len(g.unread) > 0 {
		g.doubt("not read: %s", strings.Join(g.unread, ", "))
	}
	if len(g.doubts) > 0 {
		b.line("")
		b.line("# Not sure:")
		for _, d := range g.doubts {
			b.line("# - %s", strings.ReplaceAll(d, "\n", " "))
		}
	}
	p := &Proposal{Study: b.String(), Doubts: g.doubts, Fish: g.fish.name, Other: g.other, Tables: g.taken()}
	for _, d := range g.doubts {
		p.Asks = append(p.Asks, Ask{g.about[d], d})
	}
	for _, s := range g.sightings {
		p.Sightings = append(p.Sightings, s.name)
	}
	return p
}

func (g *guess) renderTop(b *text) {
	b.line("# A study proposed by looking at your tables. Lines marked ? are guesses:")
	b.line("# confirm or correct them, then run: unseen check STUDY")
	b.line("")
	b.line("title = %s", quoted(filepath.Base(absolute(g.base))))
	if g.offsets || g.allZones() {
		b.line("# time_zone = \"Europe/Dublin\"   # the sightings write their offset; this is for other times without one")
	} else {
		b.line("time_zone = \"UTC\"   # ? the sightings have no offset: name the zone the readers' clocks keep, as \"Europe/Dublin\"")
		g.ask("time_zone", "the times have no offset; they are taken as UTC. Set time_zone to what the readers' clocks keep")
	}
	if order := g.commonOrder(); order != clock.Unsettled {
		b.line("date_order = %s   # ? not every file tells", quoted(order.String()))
	}
	if g.text {
		b.line("tag_form = \"text\"   # ? the tags are no ISO 11784 codes")
	}
}

func (g *guess) renderSites(b *text) {
	b.line("")
	b.line("# Sites in downstream order, the release site first. km is the distance along")
	b.line("# the river, falling or rising throughout; give it at all sites or at none.")
	b.line("# A site may have more lines, such as these:")
	b.line("#   aliases = [\"Scar Wier\"]   (other spellings of its name in the tables)")
	b.line("#   working = [[%s, %s]]   (when its antennas worked, if not all the time)", g.firstDay(), g.lastDay())
	released := g.release
	if i := slices.IndexFunc(g.sites, func(s *guessedSite) bool {
		return s.name == released || slices.Contains(s.aliases, released) || history.SameSpelling(s.name, released)
	}); i >= 0 {
		first := g.sites[i]
		if first.name != released && !slices.Contains(first.aliases, released) {
			first.aliases = append(first.aliases, released)
		}
		g.sites = slices.Insert(slices.Delete(g.sites, i, i+1), 0, first)
	} else {
		if released == "" {
			released = "Release site"
			g.ask("release", "the tables do not name the place of release; it is called \"Release site\"")
		}
		b.line("[[site]]")
		b.line("name = %s   # ? where the fish were released", quoted(released))
		if g.kmKnown && !math.IsNaN(g.releaseKm) {
			b.line("km = %v", g.releaseKm)
		} else {
			b.line("# km = ")
		}
	}
	for _, s := range g.sites {
		s.render(b, g.kmKnown && !math.IsNaN(g.releaseKm))
	}
	for _, s := range g.rare {
		b.line("")
		b.line("# ? %s has only %d records: a place on the river, or a workbench? As a site it would be", quoted(s.name), s.records)
		b.line("# [[site]]")
		b.line("# name = %s", quoted(s.name))
		g.ask("site", "%q has only %d records and is left out", s.name, s.records)
	}
}

// firstDay and lastDay are those of the records.
func (g *guess) firstDay() string {
	s := slices.MinFunc(g.sites, func(a, b *guessedSite) int { return cmp.Compare(a.first, b.first) })
	return clock.UTC.Format(s.first)[:10]
}

func (g *guess) lastDay() string {
	s := slices.MaxFunc(g.sites, func(a, b *guessedSite) int { return cmp.Compare(a.last, b.last) })
	return clock.UTC.Format(s.last)[:10]
}

// renderModel offers a model as a comment: the default is the widest.
func (g *guess) renderModel(b *text) {
	survival := "reach"
	if c, ok := g.cohortColumn(); ok && c != "" {
		survival = "reach + cohort"
	}
	b.line("")
	b.line("# Without a model each cohort has its own survival in each reach. Take the # away")
	b.line("# for one that shares; write several, and unseen compare says which the data support.")
	b.line("# [[model]]")
	b.line("# name      = %s", quoted("survival "+survival))
	b.line("# survival  = %s", quoted(survival))
	b.line("# detection = \"row\"")
}

func (s *guessedSite) render(b *text, hasKm bool) {
	b.line("")
	b.line("[[site]]   # %d records from %s to %s", s.records, clock.UTC.Format(s.first)[:16], clock.UTC.Format(s.last)[:16])
	b.line("name = %s", quoted(s.name))
	if len(s.aliases) > 0 {
		b.line("aliases = [%s]   # ? the tables write the name so too", quotedList(s.aliases))
	}
	if hasKm {
		b.line("km = %v", s.km)
	} else {
		b.line("# km = ")
	}
	if len(s.antennas) == 0 {
		return
	}
	var counts, list []string
	for _, a := range slices.SortedFunc(maps.Keys(s.antennas), history.NaturalCompare) {
		counts = append(counts, fmt.Sprintf("%s (%d)", quoted(a), s.antennas[a]))
		list = append(list, quoted(a))
	}
	b.line("# antennas: %s", strings.Join(counts, ", "))
	if n := len(list); n > 1 {
		b.line("# if they stand in rows across the river, in whichever order: rows = { upper = [%s], lower = [%s] }",
			strings.Join(list[:n/2], ", "), strings.Join(list[n/2:], ", "))
	}
}

func siteList(sites []*guessedSite) string {
	var names []string
	for _, s := range sites {
		names = append(names, s.name)
	}
	return strings.Join(names, ", ")
}

// columnsLine is the mapping of our names to a table's, or a comment where
// they are the same.
func (t *sample) columnsLine(ours []string, at []int) string {
	pairs := t.columnPairs(ours, at)
	if len(pairs) == 0 {
		return "# the columns are called as unseen calls them: " + strings.Join(t.header, ", ")
	}
	return "columns = { " + strings.Join(pairs, ", ") + " }   # ?"
}

// columnPairs are our names and a table's where they differ.
func (t *sample) columnPairs(ours []string, at []int) (pairs []string) {
	for i, name := range ours {
		if at[i] >= 0 && t.header[at[i]] != name {
			pairs = append(pairs, name+" = "+t.called(at[i]))
		}
	}
	return pairs
}

func (g *guess) renderFish(b *text) {
	t := g.fish
	tag, released := g.tag(t), t.releaseColumn()
	b.line("")
	b.line("[fish]   # %d records looked at", t.records)
	b.line("file = %s", quoted(t.file.Name))
	renderReading(b, &t.reading)
	g.renderZone(b, t, g.fishColumns())
	if g.fishDates.open && g.commonOrder() == clock.Unsettled {
		b.line("date_order = %s   # ?", quoted(g.fishDates.order.String()))
	}
	if x := dialect.DelimiterNames[t.delim]; x != "" {
		commas := slices.ContainsFunc(t.columns, func(c sampleColumn) bool { return c.commas > 0 && c.mostly(c.numbers) })
		if commas {
			x += ", numbers have a decimal comma"
		}
		b.line("# fields are parted by %s", x)
	}
	clock, second := t.clockOf(released, true), g.secondTag(tag)
	ours, at := []string{"tag", "released"}, []int{tag, released}
	for _, role := range []string{"site", "removed"} {
		if i, ok := t.told(role); ok && i >= 0 {
			ours, at = append(ours, role), append(at, i)
		}
	}
	removed := g.removedColumn()
	if removed >= 0 {
		ours, at = append(ours, "removed"), append(at, removed)
	}
	cohort, _ := g.cohortColumn()
	var kinds, attributes []string
	for i := range t.columns {
		c := &t.columns[i]
		if i == tag || i == released || i == removed || i == clock || i == second || c.name == "" || i < len(t.reading.Joins) || t.isPart(c.name) {
			continue
		}
		if slices.Contains(study.Reserved, c.name) && (c.name != "cohort" || cohort != "cohort") && c.name != "site" && !slices.Contains(at, i) {
			ours, at = append(ours, c.name+"_name"), append(at, i)
		}
		switch {
		case c.filled > 0 && c.numbers > 0 && c.numbers < c.filled && !slices.Contains([]string{"removed", "removed_site", "died", "shed", "site"}, c.name):
			kinds = append(kinds, quoted(c.name)+` = "category"`)
			g.doubt("%s: the column %q holds text and numbers; it is taken as a category", t.name, c.name)
		case c.mostly(c.numbers) && c.commas > 0 && c.points > 0:
			kinds = append(kinds, quoted(c.name)+` = "category"`)
			g.doubt("%s: some numbers of the column %q have a decimal comma and others a point; it is taken as a category", t.name, c.name)
		}
		attributes = append(attributes, quoted(c.name))
	}
	if clock >= 0 {
		b.line("columns = { %s }   # ?", strings.Join(append(t.columnPairs([]string{"tag"}, []int{tag}),
			append([]string{"released = " + t.called(released, clock)}, t.columnPairs(ours[2:], at[2:])...)...), ", "))
	} else {
		b.line("%s", t.columnsLine(ours, at))
	}
	if x := &t.columns[released]; clock < 0 && x.dateOnly > 0 {
		b.line("# released_at = \"20:00\"   # ? %d of %d releases have a date alone: the time of day they were made", x.dateOnly, x.times)
		g.ask("released_at", "%s: %d of %d releases have a date alone; the midnight before is assumed until released_at says the time of day", t.name, x.dateOnly, x.times)
	}
	if c := &t.columns[released]; hinted(c.name, asideWords) && !hinted(c.name, releaseWords) {
		g.doubt("%s: %q is taken for the time of release, for want of another; if the fish were held after it, give the time of their release in a column", t.name, c.name)
	}
	if second >= 0 {
		b.line("second_tag = %s   # ? of fish tagged twice", quoted(t.header[second]))
	}
	if len(kinds) > 0 {
		b.line("kinds = { %s }   # ?", strings.Join(kinds, ", "))
	}
	if c, ok := g.cohortColumn(); ok && c != "" {
		b.line("cohort = %s   # ?", quoted(c))
	} else if cohorts := g.cohorts(); len(cohorts) > 0 && !ok {
		other := ""
		if len(cohorts) > 1 {
			other = " or " + strings.Join(cohorts[1:], ", ")
		}
		b.line("# cohort = %s   # ? take the # away if that is the release group%s", quoted(cohorts[0]), other)
	}
	if len(attributes) > 0 {
		b.line("# also read, for models: %s", strings.Join(attributes, ", "))
	}
	if pairs := t.measurePairs(); len(pairs) > 0 {
		b.line("# for growth name them so in columns too: %s", strings.Join(pairs, ", "))
	}
	if i := g.likelyRemoved(); i >= 0 && i == removed {
		g.ask("removed", "%s: %q is taken for the sites where %d fish were taken out: from there on they count neither as dead nor as missed. If they went on, take removed out of columns", t.name, t.columns[i].name, t.columns[i].filled)
	} else if i >= 0 {
		c := &t.columns[i]
		g.ask("removed", "%s: %q names places of %d fish; if they were taken out there, say removed = %s in columns, and call the places as the sites are called", t.name, c.name, c.filled, t.called(i))
	}
	if t.columns[released].filled < t.records {
		g.doubt("%s: some fish have no release time", t.name)
	}
}

// renderRecaptures writes the table that was said to be of recaptures.
func (g *guess) renderRecaptures(b *text) {
	var all []*sample
	for _, t := range g.tables {
		if t.kind() == Recaptures {
			all = append(all, t)
		}
	}
	if len(all) == 0 {
		return
	}
	t := all[0]
	b.line("")
	b.line("[recaptures]")
	b.line("file = %s", quoted(t.file.Name))
	renderReading(b, &t.reading)
	at := t.recaptured()
	var pairs []string
	for _, role := range Roles[Recaptures] {
		if i := at[role]; i >= 0 && t.header[i] != role {
			pairs = append(pairs, role+" = "+t.called(i))
		}
	}
	if len(pairs) > 0 {
		b.line("columns = { %s }", strings.Join(pairs, ", "))
	}
	for _, t := range all[1:] {
		g.doubt("a study has one table of recaptures: %s is left out", t.name)
	}
}
