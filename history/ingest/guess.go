package ingest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
)

// Proposal is a study file made by looking at a user's tables.
type Proposal struct {
	// Study is the text of the study file, with what is not sure as comments.
	Study string
	// Doubts are what the user should confirm, a sentence each.
	Doubts []string
	// Fish is the tagging table and Sightings the array files, from the folder
	// of the study file; Other are tables that seem to be neither.
	Fish      string
	Sightings []string
	Other     []string
}

// Guess looks at the tables under the paths (files, or folders with all that
// is in them) and proposes a study file that will stand in the folder base.
// Columns are told by what they hold, not by what they are called. The error
// says what is missing where no study can be proposed.
func Guess(ctx context.Context, paths []string, base string) (*Proposal, error) {
	g := &guess{base: base}
	if err := g.gather(ctx, paths); err != nil {
		return nil, err
	}
	if err := g.roles(); err != nil {
		return nil, err
	}
	if err := g.mapSightings(); err != nil {
		return nil, err
	}
	if err := g.river(ctx); err != nil {
		return nil, err
	}
	return g.render(), nil
}

type guess struct {
	base   string
	tables []*glimpse
	doubts []string

	text      bool // tags are plain text
	fish      *glimpse
	sightings []*glimpse
	other     []string
	columns   map[*glimpse]columns // of the array files
	release   string               // name of the release site
	sites     []*guessedSite
	rare      []*guessedSite // with so few records that they may be none
	order     clock.Order
	orderSaid string
	offsets   bool // times say their instant
}

func (g *guess) doubt(format string, args ...any) {
	g.doubts = append(g.doubts, fmt.Sprintf(format, args...))
}

func (g *guess) gather(ctx context.Context, paths []string) error {
	st := &study.Study{Path: filepath.Join(g.base, "study.toml"), Sightings: &study.SightingFiles{Files: paths, Written: paths}}
	files, _, _, err := expand(st)
	if err != nil {
		return errors.New(strings.TrimPrefix(err.Error(), ": [sightings] files: "))
	}
	for _, f := range files {
		if !isTableFile(f.path) {
			continue
		}
		t, err := look(ctx, f)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			g.doubt("%s cannot be read and is left out: %v", f.name, err)
			continue
		}
		g.tables = append(g.tables, t)
	}
	if len(g.tables) == 0 {
		return fmt.Errorf("no table (%s) among %s", strings.Join(tableEndings, " "), strings.Join(paths, ", "))
	}
	return nil
}

// roles tells the fish table from the array files.
func (g *guess) roles() error {
	var tagged []*glimpse
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
		var names []string
		for _, t := range g.tables {
			names = append(names, t.name)
		}
		return fmt.Errorf("a study needs a fish table and at least one table of sightings, each with a column of tags and one of times; found %d such among %s", len(tagged), strings.Join(names, ", "))
	}
	score := func(t *glimpse) float64 {
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
	slices.SortStableFunc(tagged, func(a, b *glimpse) int { return cmp.Compare(score(b), score(a)) })
	g.fish, g.sightings = tagged[0], tagged[1:]
	if score(tagged[0])-score(tagged[1]) < 1 {
		g.doubt("%s is taken for the fish table, but %s looks much the same", tagged[0].name, tagged[1].name)
	}
	slices.SortFunc(g.sightings, func(a, b *glimpse) int { return history.NaturalCompare(a.name, b.name) })
	for _, t := range g.tables {
		if t != g.fish && !slices.Contains(g.sightings, t) {
			g.other = append(g.other, t.name)
		}
	}
	return nil
}

func (g *guess) tag(t *glimpse) int {
	if g.text {
		return t.textTag
	}
	return t.tagColumn()
}

// textTags are the tables that share the values of a column, which could be a
// tag in plain text: of all pairs of columns of two tables that of most shared
// values.
func (g *guess) textTags() []*glimpse {
	var out []*glimpse
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

// mapTable tells the columns of an array file.
func (g *guess) mapTable(t *glimpse) (columns, error) {
	c := columns{tag: g.tag(t), site: -1, antenna: -1, time: t.timeColumn("time", "date"), date: -1}
	if x := &t.columns[c.time]; x.dateOnly == x.times {
		if i := slices.IndexFunc(t.columns, func(x glimpseColumn) bool { return x.mostly(x.clocks) }); i >= 0 {
			c.date, c.time = c.time, i
		}
	}
	// Places are few and come back often.
	var places []int
	for i := range t.columns {
		x := &t.columns[i]
		if i != c.tag && i != c.time && i != c.date && x.filled > 0 && len(x.values) <= 200 && len(x.values)*3 <= x.filled+6 && !x.isTime() && float64(x.filled) > 0.8*float64(t.records) {
			places = append(places, i)
		}
	}
	slices.SortStableFunc(places, func(a, b int) int { return cmp.Compare(placeScore(&t.columns[b]), placeScore(&t.columns[a])) })
	switch len(places) {
	case 0:
		return c, fmt.Errorf("%s: no column looks like the site or antenna of a sighting; its columns are %s", t.name, strings.Join(t.header, ", "))
	case 1:
		c.site = places[0]
		if named(t.header[c.site], "antenna") {
			c.antenna, c.site = c.site, -1
		}
	default:
		// Of a site and its antennas the site has fewer names.
		c.site, c.antenna = places[0], places[1]
		if a, s := &t.columns[c.antenna], &t.columns[c.site]; named(s.name, "antenna") || !named(s.name, "site") && len(a.values) < len(s.values) {
			c.site, c.antenna = c.antenna, c.site
		}
		if len(places) > 2 {
			g.doubt("%s: %q is taken for the site and %q for the antenna; other columns could be", t.name, t.header[c.site], t.header[c.antenna])
		}
	}
	return c, nil
}

// role is one of our columns of an array file.
type role struct {
	ours string
	at   func(*columns) *int
}

var roles = []role{
	{"tag", func(c *columns) *int { return &c.tag }},
	{"site", func(c *columns) *int { return &c.site }},
	{"antenna", func(c *columns) *int { return &c.antenna }},
	{"date", func(c *columns) *int { return &c.date }},
	{"time", func(c *columns) *int { return &c.time }},
}

// mapSightings tells the columns of all array files: those called as in the
// first file are the same, others are told by what they hold.
func (g *guess) mapSightings() error {
	g.columns = map[*glimpse]columns{}
	t := g.sightings[0]
	first, err := g.mapTable(t)
	if err != nil {
		return err
	}
	g.columns[t] = first
	for _, u := range g.sightings[1:] {
		own, err := g.mapTable(u)
		for _, r := range roles {
			if i := *r.at(&first); i >= 0 {
				if k := slices.Index(u.header, t.header[i]); k >= 0 {
					*r.at(&own) = k
				}
			}
		}
		if err != nil && own.site < 0 && own.antenna < 0 {
			return err
		}
		for _, r := range roles {
			a, b := *r.at(&first), *r.at(&own)
			if a >= 0 && b >= 0 && !strings.EqualFold(t.header[a], u.header[b]) {
				g.doubt("%s: %q is taken for what %s calls %q", u.name, u.header[b], t.name, t.header[a])
			}
		}
		g.columns[u] = own
	}
	g.offsets = true
	for _, u := range g.sightings {
		x := u.dates(g.columns[u])
		g.offsets = g.offsets && x.absolute == x.times
		if l, _, err := x.survey.Settle(clock.Unsettled); err != nil {
			g.orderSaid = err.Error()
			g.order = clock.DayFirst
		} else if l.Order != clock.Unsettled && g.order == clock.Unsettled {
			g.order = l.Order
		}
	}
	if i := g.fish.timeColumn("released", "release", "time", "date"); i >= 0 && g.orderSaid == "" {
		if _, _, err := g.fish.columns[i].survey.Settle(clock.Unsettled); err != nil {
			g.orderSaid = err.Error()
			if g.order == clock.Unsettled {
				g.order = clock.DayFirst
			}
		}
	}
	return nil
}

// placeScore says how much a column looks like a place.
func placeScore(c *glimpseColumn) float64 {
	s := 0.0
	if named(c.name, "site", "station", "location", "array") {
		s += 3
	}
	if named(c.name, "antenna", "reader") {
		s += 2
	}
	if !c.mostly(c.numbers) {
		s++
	}
	if len(c.values) > 1 {
		s++
	}
	return s
}

// guessedSite is a site as the sightings show it.
type guessedSite struct {
	name        string
	records     int64
	first, last int64
	antennas    map[string]int64
	wins        int // over other sites
}

// orderTags is how many tags the order of the sites is guessed from.
const orderTags = 20_000

// river reads the array files through and orders the sites by who sees a tag
// first.
func (g *guess) river(ctx context.Context) error {
	bySite := map[string]*guessedSite{}
	firsts := map[string]map[string]int64{}
	fishTags := g.fish.columns[g.tag(g.fish)].values
	form := tagReader{text: g.text}
	known := map[string]bool{}
	for v := range fishTags {
		if tag, _, err := form.canonical(v); err == nil {
			known[tag] = true
		}
	}
	for _, t := range g.sightings {
		col := g.columns[t]
		layout, _, _ := t.dates(col).survey.Settle(g.order)
		if col.date >= 0 {
			layout.Kind = clock.Calendar // as joinDate writes it
		}
		err := eachFields(ctx, t.path, func([]string, byte) {}, func(fields []string, _ int) bool {
			place := max(col.site, col.antenna)
			if col.site >= 0 {
				place = col.site
			}
			if col.tag < 0 || place < 0 || ctx.Err() != nil {
				return false
			}
			when := fields[col.time]
			if col.date >= 0 {
				when = string(joinDate(nil, []byte(fields[col.date]), []byte(when)))
			}
			v, fault := layout.Parse([]byte(when))
			if fault != clock.OK {
				return true
			}
			name := strings.TrimSpace(fields[place])
			if name == "" {
				return true
			}
			s := bySite[name]
			if s == nil {
				if len(bySite) >= maxNames {
					return true
				}
				s = &guessedSite{name: name, first: v.Ms, last: v.Ms, antennas: map[string]int64{}}
				bySite[name] = s
			}
			s.records++
			s.first, s.last = min(s.first, v.Ms), max(s.last, v.Ms)
			if col.site >= 0 && col.antenna >= 0 && len(s.antennas) < maxNames {
				s.antennas[strings.TrimSpace(fields[col.antenna])]++
			}
			tag, _, err := form.canonical(fields[col.tag])
			if err != nil || !known[tag] {
				return true
			}
			m := firsts[tag]
			if m == nil {
				if len(firsts) >= orderTags {
					return true
				}
				m = map[string]int64{}
				firsts[strings.Clone(tag)] = m
			}
			if old, ok := m[name]; !ok || v.Ms < old {
				m[name] = v.Ms
			}
			return true
		})
		if err = cmp.Or(ctx.Err(), err); err != nil {
			return err
		}
	}
	total := int64(0)
	for _, s := range bySite {
		total += s.records
	}
	names := slices.DeleteFunc(sortedKeys(bySite), func(name string) bool {
		s := bySite[name]
		// A handful of records among thousands: a workbench, more likely.
		if few := s.records*200 < total && s.records < 20; few {
			g.rare = append(g.rare, s)
			return true
		}
		return false
	})
	for i, a := range names {
		for _, b := range names[i+1:] {
			ab, ba := 0, 0
			for _, m := range firsts {
				x, ok1 := m[a]
				y, ok2 := m[b]
				if ok1 && ok2 && x < y {
					ab++
				} else if ok1 && ok2 && x > y {
					ba++
				}
			}
			if ab > ba {
				bySite[a].wins++
			} else if ba > ab {
				bySite[b].wins++
			}
			if n := ab + ba; n > 0 && float64(min(ab, ba)) > 0.2*float64(n) {
				g.doubt("of %d fish sighted at both %q and %q, %d came to the first earlier: their order is not sure", n, a, b, ab)
			} else if n == 0 {
				g.doubt("no fish was sighted at both %q and %q: their order is not sure", a, b)
			}
		}
	}
	for _, name := range names {
		g.sites = append(g.sites, bySite[name])
		if strings.Contains(name, "/") {
			g.doubt("%q cannot be the name of a site, for its \"/\": call it otherwise in the array files, or name its antennas and leave out the site column", name)
		}
	}
	slices.SortStableFunc(g.sites, func(a, b *guessedSite) int { return cmp.Compare(b.wins, a.wins) })
	if len(g.sites) == 0 {
		return fmt.Errorf("%s: no record has a time that can be read", g.sightings[0].name)
	}
	return nil
}
