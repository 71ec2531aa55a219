package figure

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Weeks shows, for each site but the last, which share of the fish known to
// have passed in a week were seen there, and when the site did not work; nil
// where the study has no times.
func Weeks(d *analysis.Fitted) *Figure {
	h := d.Histories
	sites := len(h.River.Sites)
	if h.First == nil || h.Released == nil || sites < 3 {
		return nil
	}
	z := distuv.UnitNormal.Quantile(.5 + d.Fit.Options.Level/2)
	t := view.Table{ID: "detection_by_week", Columns: []view.Column{
		{Name: "site", Title: "site", Key: true}, {Name: "week_from", Title: "week from", Key: true},
		{Name: "passed", Title: "known to have passed", Kind: view.Count}, {Name: "seen", Title: "seen", Kind: view.Count},
		{Name: "seen_percent", Title: "seen %", Kind: view.Range, Digits: 1},
	}}
	bySite := make([]map[float64]*[2]int, sites)
	low, high := math.Inf(1), math.Inf(-1)
	for k := 1; k < sites-1; k++ {
		bySite[k] = weeks(d.Data, k)
		for week := range bySite[k] {
			low, high = min(low, week), max(high, week+7)
		}
	}
	if math.IsInf(low, 1) {
		return nil
	}
	x := timeAxis(low, high, 6)
	c := &charts{height: 120}
	outages := false
	worst, where, when := cjs.NoEstimate(cjs.Absent), "", 0.0
	for k := 1; k < sites-1; k++ {
		name := h.River.Sites[k].Name
		p := panel{title: name, x: x, y: percentAxis("% seen of fish known to have passed")}
		off := gaps(&d.Study.Sites[k], low, high)
		outages = outages || len(off) > 0
		p.under = shaded(off)
		var points []row
		var at []float64
		for _, week := range slices.Sorted(maps.Keys(bySite[k])) {
			n := bySite[k][week]
			e := percent(cjs.Wilson(n[1], n[0], z))
			t.Rows = append(t.Rows, []view.Cell{view.T(name), view.T(date(week)), view.I(n[0]), view.I(n[1]), view.R(e.Value, e.Low, e.High)})
			points, at = append(points, row{key: "detection in a week " + name + " " + date(week), Estimate: e}), append(at, week+3.5)
			if !(e.High >= worst.High) && n[0] >= 10 { // the one surest to be low
				worst, where, when = e, name, week
			}
		}
		p.over = func(s *drawing, px, py func(float64) float64, _, _ float64) {
			for i, q := range points {
				s.shows(q.key, q.Estimate, func() {
					s.reach(canvas.At(px(at[i]), py(q.Low)), canvas.At(px(at[i]), py(q.High)), canvas.Seen, 1.6, q.Status, [2]bool{})
					s.Mark(px(at[i]), py(q.Value), 3, canvas.Disc, canvas.Seen)
				})
			}
		}
		c.panels = append(c.panels, p)
	}
	c.names = func(s *drawing) []entry {
		out := []entry{{"share seen, with " + level(d.Fit) + " interval", func(x, y float64) {
			s.Segment(x+13, y-1, x+13, y+11, canvas.Seen, 1.6)
			s.Mark(x+13, y+5, 3, canvas.Disc, canvas.Seen)
		}}}
		if outages {
			out = append(out, s.outage())
		}
		return out
	}
	finding := ""
	if where != "" {
		finding = fmt.Sprintf("Lowest at %s in the week from %s: %s. ", where, date(when), view.PercentSpan(worst.Value/100, worst.Low/100, worst.High/100, 1))
	}
	return &Figure{
		ID:    "detection-by-week",
		Title: "Detection by week",
		Caption: finding + "Fish detected downstream are known to have passed; the week is that in which they passed, interpolated by distance between the detections above and below, whether detected here or not. " +
			"Below the last site no fish are detected.",
		Source:      dataSource(d.Data),
		Description: "A point with its interval for each site and week: the share seen of the fish known to have passed. " + finding,
		Table:       t,
		body:        c,
	}
}

// weeks counts, by the Monday a week begins with, the fish known to have passed
// site k and those of them that were seen there.
func weeks(d *analysis.Data, k int) map[float64]*[2]int {
	h := d.Histories
	place := make([]float64, len(h.River.Sites))
	for j, s := range h.River.Sites {
		place[j] = math.Abs(s.Km - h.River.Sites[0].Km)
	}
	if slices.ContainsFunc(place, math.IsNaN) {
		for j := range place {
			place[j] = float64(j)
		}
	}
	out := map[float64]*[2]int{}
	for i := range h.Len() {
		entry := int(h.Entry[i])
		if entry >= k {
			continue
		}
		up, above := entry, h.Released[i]
		below, under := -1, int64(history.NoTime)
		for j := entry + 1; j < len(place); j++ {
			ms := h.FirstAt(i, j)
			switch {
			case ms == history.NoTime || j == k:
			case j < k:
				up, above = j, ms
			case below < 0:
				below, under = j, ms
			}
		}
		if below < 0 || above == history.NoTime {
			continue
		}
		share := .5
		if place[below] > place[up] {
			share = (place[k] - place[up]) / (place[below] - place[up])
		}
		day := dayOf(above+int64(share*float64(under-above)), d.Study.Location)
		monday := day - math.Mod(day+3, 7) // 1 January 1970 was a Thursday
		if out[monday] == nil {
			out[monday] = &[2]int{}
		}
		out[monday][0] += h.Weight(i)
		if h.FirstAt(i, k) != history.NoTime {
			out[monday][1] += h.Weight(i)
		}
	}
	return out
}

// shaded draws times without work beneath a plot.
func shaded(off [][2]float64) func(s *drawing, x, y func(float64) float64, top, bottom float64) {
	return func(s *drawing, px, _ func(float64) float64, top, bottom float64) {
		for _, g := range off {
			s.Fill(canvas.Rectangle(px(g[0]), top, px(g[1])-px(g[0]), bottom-top), canvas.Outage)
		}
	}
}

// outage is the legend's entry of them.
func (s *drawing) outage() entry { return s.swatch("not working, by the study file", canvas.Outage) }

// gaps are the times, in days since 1970, in which a site did not work between
// low and high: none of its rows, where only these have windows.
func gaps(s *study.Site, low, high float64) [][2]float64 {
	working := s.Working
	if len(working) == 0 && !slices.ContainsFunc(s.Rows, func(r study.Row) bool { return len(r.Working) == 0 }) {
		for _, r := range s.Rows {
			working = append(working, r.Working...)
		}
	}
	if len(working) == 0 {
		return nil
	}
	day := func(t time.Time, open float64) float64 {
		if t.IsZero() {
			return open
		}
		return min(high, max(low, float64(t.UnixMilli())/86400e3))
	}
	var on [][2]float64
	for _, w := range working {
		on = append(on, [2]float64{day(w.From, low), day(w.To, high)})
	}
	slices.SortFunc(on, func(a, b [2]float64) int {
		if a[0] < b[0] {
			return -1
		}
		return 1
	})
	var out [][2]float64
	from := low
	for _, w := range on {
		if w[0] > from {
			out = append(out, [2]float64{from, w[0]})
		}
		from = max(from, w[1])
	}
	if from < high {
		out = append(out, [2]float64{from, high})
	}
	return out
}
