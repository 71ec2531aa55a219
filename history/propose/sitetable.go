package propose

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/table"
)

var kmWords = []string{"km", "rkm", "kilomet", "distance", "entfernung", "avstand", "afstand", "distancia", "distância", "distanza", "etäisyys", "odległo", "расстоян", "距離"}

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

// trapWords are of places where fish are caught and let go.
var trapWords = []string{"trap", "falle", "fälla", "felle", "fælde", "trampa", "trappola", "armadilha", "piège", "nasse", "rysä", "pułapk", "ловуш", "hatchery"}

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
