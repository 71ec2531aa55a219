package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/season"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Replay shows what would have been said of the share that will have passed the
// last site on each day of a season: with fish still on their way allowed for,
// and with each taken for dead, beside what it came to. It is nil where no day
// gave a value.
func Replay(d *analysis.Data, days []season.Day) *Figure {
	last := len(d.Histories.River.Sites) - 1
	site := d.Histories.River.Sites[last].Name
	running := line{label: "read on the day", look: canvas.LookOf(0), points: true}
	plain := line{label: "season treated as complete", look: canvas.LookOf(1), points: true}
	final := line{label: view.Final(d), look: canvas.LookOf(3)}
	t := view.Table{ID: "replay_by_day", Columns: []view.Column{
		{Name: "through", Title: "through", Key: true}, {Name: "released", Title: "fish released", Kind: view.Count},
		{Name: "passed_percent", Title: "will have passed %", Kind: view.Range, Digits: 1},
		{Name: "passed_percent_plain", Title: "season treated as complete %", Kind: view.Range, Digits: 1},
		{Name: "passed_percent_final", Title: view.FinalTitle(d), Kind: view.Range, Digits: 1},
	}}
	some := false
	add := func(l *line, day float64, f *cjs.Fit, err error) view.Cell {
		l.x = append(l.x, day)
		e := cjs.NoEstimate(cjs.Absent)
		if f != nil && err == nil && f.Verdict == cjs.Converged {
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
		t.Rows = append(t.Rows, []view.Cell{view.T(lastDay(day, d.Study.Location, "2 Jan 2006")), view.I(x.Released),
			add(&running, day, x.Running, x.Err), add(&plain, day, x.Plain, x.Err), add(&final, day, x.Final, x.NoFinal)})
	}
	if !some {
		return nil
	}
	plain.low, plain.high, final.low, final.high = nil, nil, nil, nil // their bands would hide the first
	ax := axis{low: running.x[0], high: max(running.x[len(running.x)-1], running.x[0]+1)}
	step := max(1, math.Ceil((ax.high-ax.low)/6))
	for v := ax.low; v <= ax.high; v += step {
		ax.ticks = append(ax.ticks, tick{v, lastDay(v, d.Study.Location, "2 Jan")})
	}
	return &Figure{
		ID:    "replay",
		Title: "The season, day by day",
		Caption: fmt.Sprintf("Share of the fish released by each day that will have passed %s: as estimated on that day, with its interval as a band; with the season treated as complete; and as estimated %s, for the same fish.",
			site, final.label),
		Source:      dataSource(d),
		Description: fmt.Sprintf("Three lines over the days of the season. Day by day, %s.", strings.Join(said(&running, &plain, &final, d.Study.Location), "; ")),
		Table:       t,
		body:        &charts{panels: []panel{{x: ax, y: percentAxis("% of the fish released"), lines: []line{running, plain, final}}}, height: 260},
	}
}

// said tells the lines at a few days, the first and last among them.
func said(running, plain, final *line, zone *time.Location) []string {
	var out []string
	step := max(1, len(running.x)/6)
	for i := len(running.x) - 1; i >= 0; i -= step {
		day := lastDay(running.x[i], zone, "2 Jan")
		out = append(out, fmt.Sprintf("%s: %s %% read, %s %% as if over, %s %% %s", day,
			view.Digits(running.y[i], 1), view.Digits(plain.y[i], 1), view.Digits(final.y[i], 1), final.label))
	}
	slices.Reverse(out)
	return out
}

// lastDay names the last day before a moment, in days since 1970: midnight ends
// the day before.
func lastDay(days float64, zone *time.Location, layout string) string {
	return time.UnixMilli(int64(math.Round(days*86400_000)) - 1).In(zone).Format(layout)
}
