package propose

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// river reads the array files through and orders the sites by who sees a tag
// first.
func (g *guess) river(ctx context.Context) error {
	v := visits{sites: map[string]*guessedSite{}, first: map[string]map[string]int64{}, form: tagindex.Form{Text: g.text}, known: g.isKnown}
	for _, t := range g.sightings {
		if err := v.read(ctx, t, g.columns[t], g.places[t], t.layout(g.columns[t], g.orders[t])); err != nil {
			return err
		}
	}
	g.spellings(&v)
	total := int64(0)
	for _, s := range v.sites {
		total += s.records
	}
	for _, name := range slices.Sorted(maps.Keys(v.sites)) {
		s := v.sites[name]
		// A handful of records among thousands: a workbench, more likely.
		if s.records*200 < total && s.records < 20 {
			g.rare = append(g.rare, s)
		} else {
			g.sites = append(g.sites, s)
		}
	}
	if len(g.sites) == 0 {
		return g.noTimes()
	}
	g.orderSites(&v)
	g.releaseAmongSites(&v)
	return g.siteTable(ctx, &v)
}

// noTimes says that no time of the array files can be read, and why.
func (g *guess) noTimes() error {
	for _, t := range g.sightings {
		if _, _, err := t.dates(g.columns[t]).survey.Settle(g.orders[t]); err != nil {
			return fmt.Errorf("%s: no record has a time that can be read: %w", t.name, err)
		}
	}
	return fmt.Errorf("%s: no record has a time that can be read", g.sightings[0].name)
}

// orderSites puts the sites that see more fish before others do first.
func (g *guess) orderSites(v *visits) {
	for i, a := range g.sites {
		for _, b := range g.sites[i+1:] {
			ab, ba := v.count(a.name, b.name), v.count(b.name, a.name)
			if ab > ba {
				a.wins++
			} else if ba > ab {
				b.wins++
			}
			if n := ab + ba; n >= 5 && v.near(a.name, b.name)*5 >= n*4 {
				g.doubt("%d fish were detected at both %q and %q, nearly all within half an hour: if these are two antennas of one site, let the column be the antenna's and give the site", n, a.name, b.name)
			} else if n > 0 && float64(min(ab, ba)) > 0.2*float64(n) {
				g.doubt("of %d fish detected at both %q and %q, %d came to the first earlier: their order is not sure", n, a.name, b.name, ab)
			} else if n == 0 {
				g.doubt("no fish was detected at both %q and %q: their order is not sure", a.name, b.name)
			}
		}
	}
	for _, s := range g.sites {
		if strings.Contains(s.name, "/") {
			g.doubt("%q cannot be the name of a site, for its \"/\": call it otherwise in the array files, or name its antennas and leave out the site column", s.name)
		}
	}
	slices.SortStableFunc(g.sites, func(a, b *guessedSite) int { return cmp.Compare(b.wins, a.wins) })
}

// releaseAmongSites takes for the place of release a site where nearly all fish have
// a record of the very time of their release: files that list releases too.
func (g *guess) releaseAmongSites(v *visits) {
	for _, s := range g.sites {
		n := 0
		for tag, first := range v.first {
			if ms, ok := first[s.name]; ok && ms == g.known[tag] {
				n++
			}
		}
		if n < 5 || n*5 < len(v.first)*4 || history.SameSpelling(s.name, g.release) {
			continue
		}
		if g.release == "" {
			g.release = s.name
		}
		g.ask("release", "%d fish have a record at %q of the very time of their release: it is taken for the place of release, and its records for no detections", n, s.name)
		return
	}
}

// sitePlace is a place of a table of sites.
type sitePlace struct {
	name string
	km   float64
}

// siteTable looks for a table that gives every site its place along the river.
// The sites then have their km and stand in its order, in the direction in which
// the fish came, and the one place above them all is that of release.
func (g *guess) siteTable(ctx context.Context, v *visits) error {
	for _, t := range g.tables {
		if t == g.fish || slices.Contains(g.sightings, t) || t.records > 200 {
			continue
		}
		for name := range t.columns {
			for km := range t.columns {
				x, y := &t.columns[name], &t.columns[km]
				if name == km || len(x.values) != t.records || x.mostly(x.numbers) || !y.mostly(y.numbers) || len(y.values) != t.records || !hinted(y.name, kmWords) {
					continue
				}
				places, err := t.places(ctx, name, km)
				if err != nil {
					return err
				}
				if g.takeKm(places, v) {
					g.doubt("the km of the sites, and their order, are those of %s", t.name)
					return nil
				}
			}
		}
	}
	return nil
}

// places reads the names and the km of a table of sites.
func (t *sample) places(ctx context.Context, name, km int) (out []sitePlace, err error) {
	b, err := table.OpenBlocks(ctx, t.file, false)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	return out, eachRecord(ctx, b, func(fields []string, _ int) bool {
		if v, ok := table.ParseNumber(strings.Replace(strings.TrimSpace(fields[km]), ",", ".", 1)); ok {
			out = append(out, sitePlace{strings.TrimSpace(fields[name]), v})
		}
		return true
	})
}

// takeKm takes the km of the sites; false where the table lacks one of them.
func (g *guess) takeKm(places []sitePlace, v *visits) bool {
	at := func(name string) int {
		i := -1
		for _, same := range []func(a, b string) bool{func(a, b string) bool { return a == b }, history.SameSpelling, history.Alike} {
			if i < 0 {
				i = slices.IndexFunc(places, func(p sitePlace) bool { return same(p.name, name) })
			}
		}
		return i
	}
	for _, s := range g.sites {
		if at(s.name) < 0 {
			return false
		}
	}
	// Which way the fish swam: whether km rise or fall between two sites.
	rise := 0
	for _, a := range g.sites {
		for _, b := range g.sites {
			if n := v.count(a.name, b.name); places[at(a.name)].km < places[at(b.name)].km {
				rise += n
			} else {
				rise -= n
			}
		}
	}
	if rise == 0 {
		return false
	}
	sign := 1.0
	if rise < 0 {
		sign = -1
	}
	down := func(s *guessedSite) float64 { return sign * places[at(s.name)].km }
	slices.SortStableFunc(g.sites, func(a, b *guessedSite) int { return cmp.Compare(down(a), down(b)) })
	for _, s := range g.sites {
		s.km = places[at(s.name)].km
	}
	g.releaseOf(places, sign)
	return true
}

// releaseOf finds the km of the place of release, and its name where a single
// place stands above the sites.
func (g *guess) releaseOf(places []sitePlace, sign float64) {
	g.kmKnown = true
	g.releaseKm = math.NaN()
	var above []sitePlace
	for _, p := range places {
		if history.SameSpelling(p.name, g.release) {
			g.releaseKm = p.km
			return
		}
		if sign*p.km < sign*g.sites[0].km {
			above = append(above, p)
		}
	}
	if g.release == "" && len(above) == 1 {
		g.release, g.releaseKm = above[0].name, above[0].km
	}
}

// findRelease finds the place of release: the one value of a column of the fish
// table that is called so. Several are a question.
func (g *guess) findRelease() {
	tag := g.tag(g.fish)
	for i := range g.fish.columns {
		c := &g.fish.columns[i]
		if i == tag || c.isTime() || c.mostly(c.numbers) || c.mostly(c.clocks) || c.filled*10 < g.fish.records*9 || len(c.values) > 20 || !hinted(c.name, siteWords) && !hinted(c.name, trapWords) {
			continue
		}
		if len(c.values) == 1 && g.release == "" {
			for v := range c.values {
				g.release = v
			}
		} else if len(c.values) > 1 && c.spread() < 0.2 && c.name != "site" {
			g.doubt("%s: %q has several places; if fish were let go at them, write site = %s among its columns and give each a [[site]]", g.fish.name, c.name, quoted(c.name))
		}
	}
}
