package figure

import (
	"fmt"
	"math"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/season"
	"example.org/unseen/cmd/unseen/internal/session"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Replay shows what would have been said of the share that will have passed the
// last site on each day of a season: with fish still on their way allowed for,
// and with each taken for dead. It is nil where no day gave a value.
func Replay(d *session.Data, days []season.Day) *Figure {
	last := len(d.Histories.River.Sites) - 1
	site := d.Histories.River.Sites[last].Name
	running := line{label: "on the way allowed for", look: lookOf(0), points: true}
	plain := line{label: "taken for dead", look: lookOf(1), points: true}
	t := view.Table{ID: "replay_by_day", Columns: []view.Column{
		{Name: "as_of", Title: "as of", Key: true}, {Name: "released", Title: "fish released", Kind: view.Count},
		{Name: "passed_percent", Title: "will have passed %", Kind: view.Range, Digits: 1},
		{Name: "passed_percent_plain", Title: "fish on the way taken for dead %", Kind: view.Range, Digits: 1},
	}}
	some := false
	add := func(l *line, day float64, f *cjs.Fit) view.Cell {
		l.x = append(l.x, day)
		e := cjs.NoEstimate(cjs.Absent)
		if f != nil {
			for _, p := range f.Passed {
				if len(p.Of) == 0 && p.Site == last {
					e = percent(p.PassedShare)
				}
			}
		}
		l.y, l.low, l.high = append(l.y, e.Value), append(l.low, e.Low), append(l.high, e.High)
		some = some || !math.IsNaN(e.Value)
		return view.R(e.Value, e.Low, e.High)
	}
	for _, x := range days {
		day := float64(x.AsOf.UnixMilli()) / 86400_000
		t.Rows = append(t.Rows, []view.Cell{view.T(x.AsOf.In(d.Study.Location).Format("2 Jan 2006 15:04")), view.I(x.Released),
			add(&running, day, x.Running), add(&plain, day, x.Plain)})
	}
	if !some {
		return nil
	}
	first, final := running.x[0], running.x[len(running.x)-1]
	ax := axis{low: first, high: max(final, first+1)}
	step := max(1, math.Ceil((ax.high-ax.low)/6))
	for v := ax.low; v <= ax.high; v += step {
		ax.ticks = append(ax.ticks, tick{v, time.UnixMilli(int64(v * 86400_000)).In(d.Study.Location).Format("2 Jan")})
	}
	return &Figure{
		ID:    "replay",
		Title: "The season, day by day",
		Caption: fmt.Sprintf("Share of the fish released by each day that will have passed %s, as it would have been estimated on that day; bands are intervals.",
			site),
		Description: fmt.Sprintf("Two lines over the days of the season: the estimate that allows for fish still on their way, and the one that takes them for dead. On the last day: %s %% and %s %%.",
			view.Digits(running.y[len(running.y)-1], 1), view.Digits(plain.y[len(plain.y)-1], 1)),
		Table: t,
		body:  &charts{panels: []panel{{x: ax, y: percentAxis("% of the fish released"), lines: []line{plain, running}}}, height: 260},
	}
}
