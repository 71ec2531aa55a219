package propose

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
)

// mapTable tells the columns of array files with one header.
func (g *guess) mapTable(ctx context.Context, files []*sample) (columns, error) {
	t := files[0]
	c := columns{tag: g.tag(t), site: -1, antenna: -1, time: t.timeColumn("time", "date"), date: -1}
	if x := &t.columns[c.time]; x.dateOnly == x.times {
		if i := slices.IndexFunc(t.columns, func(x sampleColumn) bool { return x.mostly(x.clocks) }); i >= 0 {
			c.date, c.time = c.time, i
		}
	}
	return c, g.mapPlaces(ctx, files, &c)
}

// sameHeaders are the array files by their headers, those of the first file
// first.
func (g *guess) sameHeaders() [][]*sample {
	var out [][]*sample
	for _, t := range g.sightings {
		i := slices.IndexFunc(out, func(o []*sample) bool { return slices.Equal(o[0].header, t.header) })
		if i < 0 {
			i = len(out)
			out = append(out, nil)
		}
		out[i] = append(out[i], t)
	}
	return out
}

// mapSightings tells the columns of all array files: those called as in the
// first file are the same, others are told by what they hold.
func (g *guess) mapSightings(ctx context.Context) error {
	g.columns = map[*sample]columns{}
	t := g.sightings[0]
	var first columns
	for n, files := range g.sameHeaders() {
		u := files[0]
		own, err := g.mapTable(ctx, files)
		if err != nil {
			return err
		}
		if n == 0 {
			first = own
		}
		for _, r := range columnRoles {
			if i := *r.at(&first); i >= 0 {
				if k := slices.Index(u.header, t.header[i]); k >= 0 {
					*r.at(&own) = k
				}
			}
		}
		if own.site < 0 && own.antenna < 0 {
			return fmt.Errorf("%s: no column looks like the site or antenna of a sighting; its columns are %s", u.name, strings.Join(u.header, ", "))
		}
		if own.antenna == own.site {
			own.antenna = -1
		}
		for _, r := range columnRoles {
			a, b := *r.at(&first), *r.at(&own)
			if a >= 0 && b >= 0 && !strings.EqualFold(t.header[a], u.header[b]) {
				g.doubt("%s: %q is taken for what %s calls %q", u.name, u.header[b], t.name, t.header[a])
			}
		}
		for _, u := range files {
			g.columns[u] = own
		}
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
	if i := g.fish.releaseColumn(); i >= 0 && g.orderSaid == "" {
		if _, _, err := g.fish.columns[i].survey.Settle(clock.Unsettled); err != nil {
			g.orderSaid = err.Error()
			if g.order == clock.Unsettled {
				g.order = clock.DayFirst
			}
		}
	}
	return nil
}
