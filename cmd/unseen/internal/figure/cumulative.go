package figure

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

// Cumulative shows how many fish had come to each site by each day, seen and
// corrected for detection, and on which days fish were released; nil where the
// study has no times.
func Cumulative(d *analysis.Fitted) *Figure {
	h := d.Histories
	bySite, hidden := arrivals(d)
	released := slices.Sorted(maps.Keys(releases(d.Data)))
	low, high := daysOf(bySite)
	if math.IsInf(low, 1) {
		return nil
	}
	for _, day := range released {
		low, high = min(low, day), max(high, day)
	}
	t := view.Table{ID: "arrivals_so_far", Columns: []view.Column{
		{Name: "site", Title: "site", Key: true}, {Name: "through", Title: "through", Key: true},
		{Name: "seen", Title: "seen", Kind: view.Count}, {Name: "passed", Title: "passed, corrected for detection", Kind: view.Number, Digits: 1},
	}}
	x := timeAxis(low, high+1, 8)
	c := &charts{height: 130}
	var finding string
	corrected, outages := false, false
	for k := 1; k < len(bySite); k++ {
		list := bySite[k]
		if len(list) == 0 {
			continue
		}
		slices.SortStableFunc(list, func(a, b arrival) int { return int(a.day - b.day) })
		// None had come when the first day began.
		seen := line{look: canvas.Series[0], x: []float64{list[0].day}, y: []float64{0}}
		passed := line{look: canvas.Series[1], x: []float64{list[0].day}, y: []float64{0}}
		n, all, half := 0.0, 0.0, 0.0
		total := 0.0
		for _, a := range list {
			total += a.weight
		}
		for i, a := range list {
			n += a.fish
			all += a.weight
			if half == 0 && all >= total/2 {
				half = a.day
			}
			if i+1 < len(list) && list[i+1].day == a.day {
				continue
			}
			// A day's fish had come by its end, and none on the days between.
			seen.until(a.day, n)
			passed.until(a.day, all)
			t.Rows = append(t.Rows, []view.Cell{view.T(h.River.Sites[k].Name), view.T(date(a.day)), view.N(n), view.N(all)})
		}
		off := gaps(&d.Study.Sites[k], low, high+1)
		outages = outages || len(off) > 0
		p := panel{under: shaded(off), title: h.River.Sites[k].Name, x: x, y: countAxis("fish", all, 3), lines: []line{seen}}
		if d.Fit.SeenKnown(k) && !hidden[k] {
			corrected = true
			p.lines = []line{passed, seen}
			sofar := ""
			if d.Fit.Problem.Running() {
				sofar = " so far"
			}
			finding = fmt.Sprintf("Half of those that passed %s%s had come by %s.", p.title, sofar, date(half))
		}
		p.over = func(s *drawing, px, _ func(float64) float64, _, bottom float64) {
			for _, day := range released {
				s.Segment(px(day), bottom, px(day), bottom-7, canvas.Ink, 1.6)
			}
		}
		c.panels = append(c.panels, p)
	}
	c.names = func(s *drawing) []entry {
		out := []entry{s.stretch("seen", canvas.Series[0])}
		if corrected {
			out = append(out, s.stretch("passed, corrected for detection", canvas.Series[1]))
		}
		if outages {
			out = append(out, s.outage())
		}
		if len(released) > 0 {
			out = append(out, entry{"day of release", func(x, y float64) { s.Segment(x+13, y+12, x+13, y+2, canvas.Ink, 1.6) }})
		}
		return out
	}
	return &Figure{
		ID:          "arrivals-so-far",
		Title:       "Fish that had come, day by day",
		Caption:     capital(strings.TrimSpace(finding + " Each fish seen represents those that passed unseen with it." + hiddenAt(d, hidden))),
		Source:      source(d),
		Description: "Two lines for each site, of the fish seen and of the fish passed by each day; ticks at the foot are days of release. " + finding,
		Table:       t,
		body:        c,
	}
}

// arrival is a fish's first sighting at a site: the local day, and how many
// fish it stands for by the detection of the fit; or, without a fish, those that
// came on a day while no row was at work, by the law of travel.
type arrival struct{ day, weight, fish float64 }

// daysOf is the range of days of arrivals; low is above high where there are
// none.
func daysOf(bySite [][]arrival) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, list := range bySite {
		for _, a := range list {
			low, high = min(low, a.day), max(high, a.day)
		}
	}
	return low, high
}

// until takes a cumulative line to the end of a day on which it rises to y.
func (l *line) until(day, y float64) {
	if last := len(l.x) - 1; l.x[last] < day {
		l.x, l.y = append(l.x, day), append(l.y, l.y[last])
	}
	l.x, l.y = append(l.x, day+1), append(l.y, y)
}

// hiddenAt says at which sites the fish that came in an outage are missing.
func hiddenAt(d *analysis.Fitted, hidden []bool) string {
	var names []string
	for k, is := range hidden {
		if is {
			names = append(names, d.Histories.River.Sites[k].Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return " How many came to " + view.And(names) + " while no row worked is not known: only the fish seen are drawn there."
}

// arrivals are the first sightings at each site, nil where the study has no times;
// hidden tells at which sites it is not known how many came while no row was at
// work: fish seen then stand for themselves alone.
func arrivals(d *analysis.Fitted) (out [][]arrival, hidden []bool) {
	h := d.Histories
	if h.First == nil {
		return nil, nil
	}
	out, hidden = make([][]arrival, len(h.River.Sites)), make([]bool, len(h.River.Sites))
	idle := make([][]arrival, len(out))
	for k := 1; k < len(out); k++ {
		idle[k], hidden[k] = unwatched(d, k)
	}
	seenAt := d.Fit.SeenAt()
	for i := range h.Len() {
		for k := int(h.Entry[i]) + 1; k < len(out); k++ {
			ms := h.FirstAt(i, k)
			if ms == history.NoTime {
				continue
			}
			a := arrival{day: dayOf(ms, d.Study.Location), weight: 1, fish: 1}
			if p := seenAt(i, k, ms); p > 0 && d.Fit.SeenKnown(k) && !hidden[k] {
				a.weight = 1 / p
			}
			out[k] = append(out[k], a)
		}
	}
	for k := 1; k < len(out); k++ {
		if len(out[k]) > 0 && !hidden[k] {
			out[k] = append(out[k], idle[k]...)
		} else {
			hidden[k] = hidden[k] && len(out[k]) > 0
		}
	}
	return out, hidden
}

// fewHidden: of a cohort of which the number that passed is not known, a smaller
// share than this of its passages in the outage does not show.
const fewHidden = 0.01

// unwatched are the fish that came to site k while no row was at work, by day;
// hidden tells that of some cohort it is not known how many.
func unwatched(d *analysis.Fitted, k int) (out []arrival, hidden bool) {
	byDay := map[float64]float64{}
	for c := range d.Histories.Cohorts {
		u := d.Fit.Unwatched(k, c)
		if math.IsNaN(u.Passed) {
			hidden = hidden || u.Share() > fewHidden
			continue
		}
		for _, s := range u.Spells {
			byDay[dayOf(s.From+(s.To-s.From)/2, d.Study.Location)] += u.Passed * s.Share
		}
	}
	for _, day := range slices.Sorted(maps.Keys(byDay)) {
		out = append(out, arrival{day: day, weight: byDay[day]})
	}
	return out, hidden
}

// releases counts the newly released fish by local day.
func releases(d *analysis.Data) map[float64]int {
	h := d.Histories
	out := map[float64]int{}
	for i := range h.Released {
		if h.New(i) && h.Released[i] != history.NoTime {
			out[dayOf(h.Released[i], d.Study.Location)] += h.Weight(i)
		}
	}
	return out
}
