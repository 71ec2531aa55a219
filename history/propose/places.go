package propose

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// placeRecords is about how many records are looked at for what columns do.
const placeRecords = 50_000

// passing is a record of a tag of the fish table: when, and the values of the
// columns that could be places.
type passing struct {
	of  *sample
	tag string
	ms  int64
	at  []string
}

// candidate is a column that could be a place.
type candidate struct {
	column  int
	name    string
	values  map[string]int // over the passings, or the samples where there are none
	numbers bool
	order   float64 // of fish that have two values, the share that have them in the order most do
	ordered bool    // enough fish tell
	ofTag   bool    // it goes with the tag, as a species does
	over    bool    // a reader beside a column of its antennas: it may be called as its place is
}

// alike are array files that are laid out alike.
type alike struct {
	files []*sample
	col   columns
	// places are the columns that could be places, site and antenna what they
	// are taken for, indices or -1, and all what the fish did.
	places        []*candidate
	site, antenna int
	all           []passing
	doubt         string
	dated
}

// fullest is the file with most records, from which the others of its layout are
// told.
func (a *alike) fullest() *sample {
	return slices.MaxFunc(a.files, func(a, b *sample) int { return a.records - b.records })
}

// likes are the array files by their layouts, those of the first file first.
func (g *guess) likes() (out []*alike) {
	for _, t := range g.sightings {
		i := slices.IndexFunc(out, func(a *alike) bool {
			u := a.files[0]
			return slices.Equal(u.header, t.header) && u.delim == t.delim && slices.Equal(u.reading.Widths, t.reading.Widths) && sameSaid(u, t)
		})
		if i < 0 {
			i = len(out)
			out = append(out, &alike{})
		}
		out[i].files = append(out[i].files, t)
	}
	return out
}

// placesOf are the columns of files with one header that could be places: few
// values that come back often.
func placesOf(files []*sample, taken columns) []*candidate {
	var out []*candidate
	for i := range files[0].columns {
		if i == taken.tag || i == taken.time || i == taken.date || files[0].columns[i].part {
			continue
		}
		c := &candidate{column: i, name: files[0].header[i], values: map[string]int{}, numbers: true}
		filled, records, fits := 0, 0, true
		for _, t := range files {
			x := &t.columns[i]
			filled, records = filled+x.filled, records+t.records
			fits = fits && !x.isTime() && x.fractions == 0
			c.numbers = c.numbers && x.mostly(x.numbers)
			for v, n := range x.values {
				c.values[v] += n
			}
		}
		n := len(c.values)
		if fits && n > 0 && n <= 200 && n*3 <= filled+6 && float64(filled) > 0.8*float64(records) {
			out = append(out, c)
		}
	}
	return out
}

// passings reads what the tags of the fish table did in files of one header.
func (g *guess) passings(ctx context.Context, files []*sample, col columns, places []*candidate, order clock.Order) ([]passing, error) {
	var out []passing
	form := tagindex.Form{Text: g.text}
	for _, t := range files {
		layout := t.layout(col, order)
		b, err := table.OpenBlocks(ctx, t.file, false)
		if err != nil {
			return nil, err
		}
		most, n := max(500, placeRecords/len(files)), 0
		err = eachRecord(ctx, b, func(fields []string, _ int) bool {
			n++
			tag, _, err := form.Canonical(fields[col.tag])
			ms, ok := col.when(fields, layout)
			if err != nil || !ok || !g.isKnown(tag) {
				return n < most
			}
			p := passing{of: t, tag: tag, ms: ms}
			for _, c := range places {
				p.at = append(p.at, strings.TrimSpace(fields[c.column]))
			}
			out = append(out, p)
			return n < most
		})
		b.Close()
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// watch notes what candidate i does: a river takes fish from one site to the
// next, in the same order, and never back.
func (c *candidate) watch(all []passing, i int) {
	type span struct{ first, last int64 }
	spans, records := map[string]map[string]span{}, map[string]int{}
	for _, p := range all {
		m := spans[p.tag]
		if m == nil {
			m = map[string]span{}
			spans[p.tag] = m
		}
		s, ok := m[p.at[i]]
		if !ok {
			s = span{p.ms, p.ms}
		}
		m[p.at[i]] = span{min(s.first, p.ms), max(s.last, p.ms)}
		records[p.tag]++
	}
	before, pairs, often := map[[2]string]int{}, 0, 0
	for tag, m := range spans {
		if records[tag] > 1 {
			often++
		}
		for u, a := range m {
			for v, b := range m {
				if u < v {
					pairs++
				}
				if u != v && a.last < b.first {
					before[[2]string{u, v}]++
				}
			}
		}
	}
	good := 0
	for uv, n := range before {
		if back := before[[2]string{uv[1], uv[0]}]; n > back || n == back && uv[0] < uv[1] {
			good += n
		}
	}
	c.ordered = pairs >= 5
	if c.ordered {
		c.order = float64(good) / float64(pairs)
	}
	c.ofTag = pairs == 0 && often >= 5 && len(c.values) > 1
}

// inside tells whether nearly every value of candidate a goes with one value of
// candidate b, as an antenna with its site.
func inside(all []passing, a, b int) bool {
	count := map[string]map[string]int{}
	for _, p := range all {
		if count[p.at[a]] == nil {
			count[p.at[a]] = map[string]int{}
		}
		count[p.at[a]][p.at[b]]++
	}
	n := 0
	for _, m := range count {
		most := 0
		for _, k := range m {
			most = max(most, k)
		}
		n += most
	}
	return len(all) > 0 && float64(n) >= 0.98*float64(len(all))
}

// placeNames are the names that other tables give to places: each value once
// in a table of sites, or the few places of release of the fish.
func (g *guess) placeNames() []map[string]int {
	var out []map[string]int
	for _, t := range g.tables {
		for i := range t.columns {
			c := &t.columns[i]
			if c.filled == 0 || c.mostly(c.numbers) || c.isTime() || len(c.values) > 200 {
				continue
			}
			fish := t == g.fish && len(c.values)*5 <= c.filled
			if fish || !slices.Contains(g.sightings, t) && t != g.fish && len(c.values) == c.filled {
				out = append(out, c.values)
			}
		}
	}
	return out
}

// siteScore says how much candidate i does as a site does.
func (g *guess) siteScore(c *candidate, i int, all []passing, places []*candidate) float64 {
	s := c.alone(g.placeNames())
	if hinted(c.name, siteWords) || c.over {
		s += 2
	}
	if c.isAntenna() {
		s -= 2
	}
	if len(c.values) > 1 {
		for k := range places {
			// Of a site and its antennas the site has fewer names.
			if k != i && len(places[k].values) > len(c.values) && inside(all, k, i) {
				s += 1.5
				break
			}
		}
	}
	return s
}

// antennaScore says how much candidate i does as an antenna of the site does;
// nothing above 0 is none.
func antennaScore(c *candidate, i, site int, all []passing, siteValues int) float64 {
	s := 0.0
	if c.isAntenna() {
		s += 3
	}
	if c.ofTag {
		s -= 3
	}
	if n := len(c.values); n > siteValues && inside(all, i, site) {
		s += 2
	} else if c.numbers && n > 1 && n <= 16 {
		s++ // numbered anew at each site
	}
	return s
}

// mapPlaces tells the site and the antenna in files of one layout by what the
// columns do.
func (g *guess) mapPlaces(ctx context.Context, a *alike) (err error) {
	places := placesOf(a.files, a.col)
	a.places, a.site, a.antenna = places, -1, -1
	if a.all, err = g.passings(ctx, a.files, a.col, places, clock.Unsettled); err != nil || len(places) == 0 {
		return err
	}
	for i, p := range places {
		p.watch(a.all, i)
		p.over = !p.numbers && hinted(p.name, deviceWords) && slices.ContainsFunc(places, func(q *candidate) bool { return q != p && hinted(q.name, coilWords) })
	}
	if len(places) == 1 {
		a.site, a.col.site = 0, places[0].column
		if a.onlyAntenna() {
			a.col.antenna, a.col.site = a.col.site, -1
		}
		return nil
	}
	score, next := 0.0, -1
	var nextScore float64
	for i, p := range places {
		switch s := g.siteScore(p, i, a.all, places); {
		case a.site < 0 || s > score:
			next, nextScore = a.site, score
			a.site, score = i, s
		case next < 0 || s > nextScore:
			next, nextScore = i, s
		}
	}
	best := 0.0
	for i, p := range places {
		if s := antennaScore(p, i, a.site, a.all, len(places[a.site].values)); i != a.site && s > best {
			a.antenna, best = i, s
		}
	}
	a.col.site = places[a.site].column
	if a.antenna >= 0 {
		a.col.antenna = places[a.antenna].column
	}
	if score-nextScore < 1 {
		a.doubt = fmt.Sprintf("%s: %q is taken for the site; %q does much the same", a.files[0].name, places[a.site].name, places[next].name)
	}
	return nil
}

// placesSaid puts what was said of places over what was guessed.
func (g *guess) placesSaid() {
	for _, t := range g.sightings {
		c := g.columns[t]
		if i, ok := t.told("antenna"); ok {
			c.antenna = i
		}
		if i, ok := t.told("site"); ok {
			if c.site = i; i >= 0 {
				delete(g.places, t)
			}
		}
		if t.said != nil && t.said.Site != "" {
			c.site, g.places[t] = -1, t.said.Site
		}
		g.columns[t] = c
	}
}

// isAntenna tells whether a candidate is called an antenna.
func (c *candidate) isAntenna() bool { return hinted(c.name, antennaWords) && !c.over }

// onlyAntenna tells whether what is taken for the site is called an antenna.
func (a *alike) onlyAntenna() bool {
	return a.site >= 0 && a.places[a.site].isAntenna() && !hinted(a.places[a.site].name, siteWords)
}

// alone says how much a candidate does as a site by itself, whatever its name
// and the columns beside it.
func (c *candidate) alone(tables []map[string]int) (s float64) {
	best := 0.0
	for _, names := range tables {
		n := 0
		for v := range c.values {
			if names[v] > 0 {
				n++
			}
		}
		if n > 0 {
			best = max(best, 1+3*float64(n)/float64(len(c.values)))
		}
	}
	s = best
	if c.ordered {
		s += 6 * (c.order - 0.5)
	}
	if c.ofTag {
		s -= 3
	}
	if !c.numbers {
		s++
	}
	if len(c.values) > 1 {
		s++
	}
	return s
}
