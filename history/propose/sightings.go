package propose

import (
	"context"
	"fmt"
	"strings"

	"example.org/unseen/history/clock"
)

// mapSightings tells the columns of all array files, and the place of those
// whose records do not say it.
func (g *guess) mapSightings(ctx context.Context) error {
	g.columns, g.places = map[*sample]columns{}, map[*sample]string{}
	g.orders, g.datesOf = map[*sample]clock.Order{}, map[*sample]*dated{}
	groups := g.likes()
	for _, a := range groups {
		for _, t := range a.files {
			g.datesOf[t] = &a.dated
		}
		t := a.fullest()
		a.col = columns{tag: g.tag(t), site: -1, antenna: -1, time: t.timeColumn(), date: -1}
		if i := t.clockOf(a.col.time, false); i >= 0 {
			a.col.date, a.col.time = a.col.time, i
		} else {
			g.askTimeOfDay(a)
		}
		g.askHalves(a)
		if err := g.mapPlaces(ctx, a); err != nil {
			return err
		}
	}
	g.settlePlaces(groups)
	g.placesSaid()
	first := g.sightings[0]
	for _, a := range groups {
		u := a.files[0]
		c, was := g.columns[u], g.columns[first]
		if c.site < 0 && c.antenna < 0 && g.places[u] == "" {
			return fmt.Errorf("%s: no column looks like the site or antenna of a sighting, nor does a name; its columns are %s", u.name, strings.Join(u.header, ", "))
		}
		for _, r := range columnRoles {
			x, y := *r.at(&was), *r.at(&c)
			if x >= 0 && y >= 0 && !u.reading.NoHeader() && !first.reading.NoHeader() && !strings.EqualFold(first.header[x], u.header[y]) {
				g.doubt("%s: %q is taken for what %s calls %q", u.name, u.header[y], first.name, first.header[x])
			}
		}
	}
	return g.settleOrders(ctx, g.byOrder(groups))
}
