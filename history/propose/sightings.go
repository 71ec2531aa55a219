package propose

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
)

// mapTable tells the columns of an array file.
func (g *guess) mapTable(t *sample) (columns, error) {
	c := columns{tag: g.tag(t), site: -1, antenna: -1, time: t.timeColumn("time", "date"), date: -1}
	if x := &t.columns[c.time]; x.dateOnly == x.times {
		if i := slices.IndexFunc(t.columns, func(x sampleColumn) bool { return x.mostly(x.clocks) }); i >= 0 {
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

// mapSightings tells the columns of all array files: those called as in the
// first file are the same, others are told by what they hold.
func (g *guess) mapSightings() error {
	g.columns = map[*sample]columns{}
	t := g.sightings[0]
	first, err := g.mapTable(t)
	if err != nil {
		return err
	}
	g.columns[t] = first
	for _, u := range g.sightings[1:] {
		own, err := g.mapTable(u)
		for _, r := range columnRoles {
			if i := *r.at(&first); i >= 0 {
				if k := slices.Index(u.header, t.header[i]); k >= 0 {
					*r.at(&own) = k
				}
			}
		}
		if err != nil && own.site < 0 && own.antenna < 0 {
			return err
		}
		for _, r := range columnRoles {
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
func placeScore(c *sampleColumn) float64 {
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
