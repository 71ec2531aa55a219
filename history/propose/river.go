package propose

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

const (
	// orderTags is how many tags the order of the sites is guessed from.
	orderTags = 20_000
	// maxNames bounds how many sites, and antennas of a site, are told apart.
	maxNames = 1 << 10
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
		return fmt.Errorf("%s: no record has a time that can be read", g.sightings[0].name)
	}
	g.orderSites(&v)
	return g.siteTable(ctx, &v)
}

// isKnown tells a tag of the fish table.
func (g *guess) isKnown(tag string) bool { _, ok := g.known[tag]; return ok }

// visits are the sites as the array files show them, and when each fish came to
// each of them first.
type visits struct {
	sites map[string]*guessedSite
	first map[string]map[string]int64 // by tag and site
	form  tagindex.Form
	known func(tag string) bool // of the fish table
}

// read reads an array file.
func (v *visits) read(ctx context.Context, t *sample, col columns, site string, layout clock.Layout) error {
	place := col.site
	if place < 0 {
		place = col.antenna
	}
	if col.tag < 0 || place < 0 && site == "" {
		return nil
	}
	b, err := table.OpenBlocks(ctx, t.file, false)
	if err != nil {
		return err
	}
	defer b.Close()
	return eachRecord(ctx, b, func(fields []string, _ int) bool {
		ms, ok := col.when(fields, layout)
		name := site
		if name == "" {
			name = strings.TrimSpace(fields[place])
		}
		if !ok || name == "" {
			return true
		}
		s := v.sites[name]
		if s == nil {
			if len(v.sites) >= maxNames {
				return true
			}
			s = &guessedSite{name: name, first: ms, last: ms, antennas: map[string]int64{}}
			v.sites[name] = s
		}
		s.records++
		s.first, s.last = min(s.first, ms), max(s.last, ms)
		if (col.site >= 0 || site != "") && col.antenna >= 0 && len(s.antennas) < maxNames {
			s.antennas[strings.TrimSpace(fields[col.antenna])]++
		}
		v.came(fields[col.tag], name, ms)
		return true
	})
}

// came takes in that a fish was at a site.
func (v *visits) came(written, site string, ms int64) {
	tag, _, err := v.form.Canonical(written)
	if err != nil || !v.known(tag) {
		return
	}
	m := v.first[tag]
	if m == nil {
		if len(v.first) >= orderTags {
			return
		}
		m = map[string]int64{}
		v.first[tag] = m
	}
	if old, ok := m[site]; !ok || ms < old {
		m[site] = ms
	}
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
			if n := ab + ba; n >= 5 && min(ab, ba) > 0 && v.near(a.name, b.name)*5 >= n*4 {
				g.doubt("%d fish were detected at both %q and %q, nearly all within half an hour and some at either first: if these are two antennas of one site, let the column be the antenna's and give the site", n, a.name, b.name)
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

// near is how many fish came to both sites within half an hour.
func (v *visits) near(a, b string) (n int) {
	const halfHour = 30 * 60_000
	for _, m := range v.first {
		x, ok1 := m[a]
		if y, ok2 := m[b]; ok1 && ok2 && max(x-y, y-x) <= halfHour {
			n++
		}
	}
	return n
}

// count is how many fish came to site a before they came to b.
func (v *visits) count(a, b string) (n int) {
	for _, m := range v.first {
		x, ok1 := m[a]
		if y, ok2 := m[b]; ok1 && ok2 && x < y {
			n++
		}
	}
	return n
}
