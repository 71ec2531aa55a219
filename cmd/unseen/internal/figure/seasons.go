package figure

import (
	"fmt"
	"math"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Arrivals shows on how many days how many fish were first seen at each site,
// and how many passed unseen with them by the detection of the fit; nil where
// the study has no times.
func Arrivals(d *analysis.Fitted) *Figure {
	h := d.Histories
	masks := h.River.SiteMasks()
	bySite, hidden := arrivals(d)
	low, high := daysOf(bySite)
	if math.IsInf(low, 1) {
		return nil
	}
	by := max(1, math.Ceil((high-low+1)/60))
	bins := int((high-low)/by) + 1
	per := "a day"
	if by > 1 {
		per = fmt.Sprintf("in %.0f days", by)
	}
	t := view.Table{ID: "arrivals_by_day", Columns: []view.Column{
		{Name: "site", Title: "site", Key: true}, {Name: "from", Title: "from", Key: true},
		{Name: "seen", Title: "seen", Kind: view.Count},
		{Name: "passed", Title: "passed, corrected for detection", Kind: view.Number, Digits: 1},
	}}
	c := &charts{height: 120, alone: len(masks) < 6}
	var said []string
	corrected, outages := false, false
	for k := 1; k < len(masks); k++ {
		if len(bySite[k]) == 0 {
			continue
		}
		seen, passed := make([]float64, bins), make([]float64, bins)
		highest := 0.0
		for _, a := range bySite[k] {
			b := int((a.day - low) / by)
			seen[b] += a.fish
			passed[b] += a.weight
			highest = max(highest, passed[b])
		}
		off := gaps(&d.Study.Sites[k], low, low+by*float64(bins))
		outages = outages || len(off) > 0
		p := panel{under: shaded(off), title: h.River.Sites[k].Name, x: dateAxis(low, by, bins, 8), y: countAxis("fish "+per, highest, 3)}
		top := 0
		for b := range bins {
			x := low + by*float64(b)
			p.bars = append(p.bars, bar{x, x + by, 0, seen[b], canvas.Seen}, bar{x, x + by, seen[b], passed[b], canvas.Unseen})
			if seen[b] > seen[top] {
				top = b
			}
			if passed[b] > 0 {
				t.Rows = append(t.Rows, []view.Cell{view.T(p.title), view.T(date(x)), view.N(seen[b]), view.N(passed[b])})
			}
		}
		corrected = corrected || d.Fit.SeenKnown(k) && !hidden[k]
		c.panels = append(c.panels, p)
		fish := 0.0
		for _, n := range seen {
			fish += n
		}
		said = append(said, fmt.Sprintf("%s: %s seen, most on %s (%s)", p.title, view.Plural(int(fish), "fish", "fish"),
			date(low+by*float64(top)), view.Digits(seen[top], 0)))
	}
	c.names = func(s *drawing) []entry {
		out := []entry{s.swatch("seen", canvas.Seen)}
		if corrected {
			out = append(out, s.swatch("passed unseen, by the estimated detection", canvas.Unseen))
		}
		if outages {
			out = append(out, s.outage())
		}
		return out
	}
	return &Figure{
		ID:          "arrivals",
		Title:       "Arrivals, seen and corrected for detection",
		Caption:     said[len(said)-1] + ". Days of first detection; each fish seen represents those that passed unseen with it." + hiddenAt(d, hidden),
		Source:      source(d),
		Description: "Bars of fish " + per + " at each site. " + strings.Join(said, "; ") + ".",
		Table:       t,
		body:        c,
	}
}

// TravelTimes shows the days over each reach, with the law fitted to them; nil
// where no fish was timed.
func TravelTimes(d *analysis.Data, r *travel.Result) *Figure {
	h := d.Histories
	t := view.Table{ID: "travel_by_day", Columns: []view.Column{
		{Name: "reach", Title: "reach", Key: true}, {Name: "from_day", Title: "from day", Kind: view.Number, Digits: 1, Key: true},
		{Name: "to_day", Title: "to day", Kind: view.Number, Digits: 1},
		{Name: "fish", Title: "fish", Kind: view.Count}, {Name: "expected", Title: "by the law", Kind: view.Number, Digits: 1},
	}}
	c := &charts{height: 150}
	var said []string
	fitted := false
	for i := range r.Stretches {
		s := &r.Stretches[i]
		if s.Cohort != travel.All || s.Days.N == 0 {
			continue
		}
		days := r.Days(h, s.From, s.To)
		// Bars as wide as a tenth of what most fish took, so that the slow few
		// do not flatten the rest.
		longest := min(s.Days.Quantiles[len(s.Days.Quantiles)-1]*2, s.Days.Max)
		x := numberAxis("days", 0, longest, 5)
		const bins = 25
		by := x.high / bins
		count := make([]float64, bins+1)
		for _, v := range days {
			count[min(bins, int(v/by))]++
		}
		name := h.River.Sites[s.From].Name + " to " + h.River.Sites[s.To].Name
		p := panel{title: name, x: x}
		highest := 0.0
		for b := range bins {
			highest = max(highest, count[b])
			p.bars = append(p.bars, bar{by * float64(b), by * float64(b+1), 0, count[b], canvas.Unseen})
		}
		law := r.Expected(h, s)
		if law != nil {
			curve := line{look: canvas.Look{Colour: canvas.Series[1].Colour}}
			for j := range 101 {
				v := x.high * float64(j) / 100
				curve.x, curve.y = append(curve.x, v), append(curve.y, law.Density(v)*by)
				highest = max(highest, curve.y[j])
			}
			p.lines = []line{curve}
			fitted = true
		}
		for b := range bins {
			from, to := by*float64(b), by*float64(b+1)
			expected := math.NaN()
			if law != nil {
				expected = law.Between(from, to)
			}
			t.Rows = append(t.Rows, []view.Cell{view.T(name), view.N(from), view.N(to), view.N(count[b]), view.N(expected)})
		}
		p.y = countAxis("fish", highest, 3)
		if slow := count[bins]; slow > 0 {
			p.aside = fmt.Sprintf("%s slower than %s days", view.Plural(int(slow), "fish was", "fish were"), view.Digits(x.high, 1))
		}
		c.panels = append(c.panels, p)
		said = append(said, fmt.Sprintf("%s: %s, half within %s days", name, view.Plural(s.Days.N, "fish", "fish"), view.Digits(s.Days.Median, 1)))
	}
	if len(c.panels) == 0 {
		return nil
	}
	c.names = func(s *drawing) []entry {
		out := []entry{s.swatch("fish detected at both ends", canvas.Unseen)}
		if fitted {
			out = append(out, s.stretch("first-passage law fitted to them", canvas.Look{Colour: canvas.Series[1].Colour}))
		}
		return out
	}
	caption := capital(said[len(said)-1]) + ". Fish detected at both ends of the stretch, by the days they took."
	if r.Options.AsOf != 0 {
		caption += " The season is still running: the law is drawn for fish that had come by then, so that slow ones still on their way do not count against it."
	}
	return &Figure{
		ID:          "travel",
		Title:       "Days under way",
		Caption:     caption,
		Source:      dataSource(d),
		Description: "Bars of fish by the days they took, with the law fitted to them as a line. " + strings.Join(said, "; ") + ".",
		Table:       t,
		body:        c,
	}
}
