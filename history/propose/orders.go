package propose

import (
	"context"

	"example.org/unseen/history/clock"
)

// settleOrders settles the order of day and month where files leave it open: as
// other files of the layout have it, else so that the fish are seen soon after
// their release.
func (g *guess) settleOrders(ctx context.Context, groups []*alike) error {
	g.offsets = true
	for _, a := range groups {
		for _, t := range a.files {
			x := t.dates(a.col)
			g.offsets = g.offsets && x.absolute == x.times
			a.said(t)
			a.look(x)
		}
	}
	g.fishDates.said(g.fish)
	g.fishDates.look(&g.fish.columns[g.fish.releaseColumn()])
	if err := g.fitOrders(ctx, groups); err != nil {
		return err
	}
	for _, a := range groups {
		for _, t := range a.files {
			g.orders[t] = a.order
		}
	}
	return nil
}

// fitOrders chooses the orders that are not settled.
func (g *guess) fitOrders(ctx context.Context, groups []*alike) error {
	both := []clock.Order{clock.DayFirst, clock.MonthFirst}
	var unsettled []*alike
	for _, a := range groups {
		if a.open && !a.settled {
			unsettled = append(unsettled, a)
		}
	}
	fishOpen := g.fishDates.open && !g.fishDates.settled
	if len(unsettled) == 0 && !fishOpen {
		return nil
	}
	best, bestFish, bestReads := -1.0, clock.DayFirst, clock.DayFirst
	for _, fish := range both {
		if !fishOpen && fish != both[0] {
			continue
		}
		order := g.fishDates.order
		if fishOpen {
			order = fish
		}
		if err := g.releases(ctx, order); err != nil {
			return err
		}
		for _, reads := range both {
			if len(unsettled) == 0 && reads != both[0] {
				continue
			}
			s := 0.0
			for _, a := range groups {
				order := a.order
				if a.open && !a.settled {
					order = reads
				}
				all, err := g.passings(ctx, a.files, a.col, nil, order)
				if err != nil {
					return err
				}
				s += g.soon(all)
			}
			if s > best {
				best, bestFish, bestReads = s, fish, reads
			}
		}
	}
	if fishOpen {
		g.fishDates.order = bestFish
	}
	for _, a := range unsettled {
		a.order = bestReads
	}
	g.ask("date_order", "dates can be read day first or month first; %s is proposed", g.proposedOrder(unsettled))
	return g.releases(ctx, g.fishDates.order)
}

func (g *guess) proposedOrder(unsettled []*alike) clock.Order {
	if len(unsettled) > 0 {
		return unsettled[0].order
	}
	return g.fishDates.order
}

// soon counts the passages that follow the release of their fish, those most
// that follow soon.
func (g *guess) soon(all []passing) (s float64) {
	const day = 86_400_000.0
	for _, p := range all {
		if days := float64(p.ms-g.known[p.tag]) / day; days > -0.5 && days < 150 {
			s += 1 / (1 + max(0, days)/10)
		}
	}
	return s
}

// byOrder parts files of one layout whose times show different orders of day and
// month, as readers set up differently do; those that show none stand apart.
func (g *guess) byOrder(groups []*alike) (out []*alike) {
	for _, a := range groups {
		by := map[clock.Order]*alike{}
		for _, t := range a.files {
			order := clock.Unsettled
			if l, _, err := t.dates(a.col).survey.Settle(clock.Unsettled); err == nil {
				order = l.Order
			}
			if by[order] == nil {
				by[order] = &alike{col: a.col}
			}
			by[order].files = append(by[order].files, t)
		}
		if by[clock.DayFirst] == nil || by[clock.MonthFirst] == nil {
			out = append(out, a)
			continue
		}
		for _, order := range []clock.Order{clock.DayFirst, clock.MonthFirst, clock.Unsettled} {
			if part := by[order]; part != nil {
				out = append(out, part)
				for _, t := range part.files {
					g.datesOf[t] = &part.dated
				}
			}
		}
	}
	return out
}
