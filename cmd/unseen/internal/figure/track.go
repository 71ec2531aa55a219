package figure

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

// mostTracks is how many other fish are drawn beside one.
const mostTracks = 80

// Track shows where one fish was when, among others of its cohort; nil where
// the study has no times.
func Track(d *analysis.Data, fish int) *Figure {
	h := d.Histories
	if h.First == nil || h.Released == nil {
		return nil
	}
	// Distance runs down the page, as the river does.
	down := func(k int) float64 {
		if km := math.Abs(h.River.Sites[k].Km - h.River.Sites[0].Km); !math.IsNaN(km) {
			return -km
		}
		return -float64(k)
	}
	track := func(i int) (at, where []float64, sites []int) {
		if h.Released[i] != history.NoTime {
			at, where, sites = append(at, momentOf(h.Released[i], d.Study.Location)), append(where, down(int(h.Entry[i]))), append(sites, int(h.Entry[i]))
		}
		for k := int(h.Entry[i]) + 1; k < len(h.River.Sites); k++ {
			if ms := h.FirstAt(i, k); ms != history.NoTime {
				at, where, sites = append(at, momentOf(ms, d.Study.Location)), append(where, down(k)), append(sites, k)
			}
		}
		return at, where, sites
	}
	own := line{look: canvas.LookOf(1), points: true}
	var sites []int
	own.x, own.y, sites = track(fish)
	if len(own.x) == 0 {
		return nil
	}
	p, rest := panel{}, line{}
	low, high := own.x[0], own.x[len(own.x)-1]
	others := 0
	for i := 0; i < h.Len() && others < mostTracks; i++ {
		if i == fish || h.Cohort[i] != h.Cohort[fish] {
			continue
		}
		x, y, _ := track(i)
		if len(x) < 2 {
			continue
		}
		others++
		low, high = min(low, x[0]), max(high, x[len(x)-1])
		// One line, broken between the fish.
		rest.x, rest.y = append(append(rest.x, x...), x[0]), append(append(rest.y, y...), math.NaN())
	}
	p.lines = []line{own}
	p.under = func(s *drawing, px, py func(float64) float64, _, _ float64) {
		s.strokeRuns(rest.x, rest.y, px, py, canvas.Muted, .5)
	}
	p.x = timeAxis(low, high, 7)
	if n := len(p.x.ticks) - 1; n > 0 && p.x.ticks[n].at == p.x.high {
		p.x.ticks = p.x.ticks[:n] // its label would leave the figure
	}
	p.y = axis{low: down(len(h.River.Sites) - 1), high: 0}
	if p.y.low == 0 {
		p.y.low = -1
	}
	for k := range h.River.Sites {
		p.y.ticks = append(p.y.ticks, tick{down(k), h.River.Sites[k].Name})
	}
	var said []string
	for i, k := range sites {
		what := "first detected at"
		if i == 0 && h.Released[fish] != history.NoTime {
			what = "released at"
		}
		t := time.UnixMilli(int64(own.x[i] * 86_400_000)).UTC()
		said = append(said, fmt.Sprintf("%s %s on %s", what, h.River.Sites[k].Name, t.Format("2 January 15:04")))
	}
	caption := "The line joins the release with the first detection at each site."
	if others > 0 {
		caption += " In grey: " + view.Plural(others, "other fish of its cohort that was detected", "other fish of its cohort that were detected") + "."
	}
	return &Figure{ID: "track", Title: "Track of " + h.Tag[fish], Description: strings.Join(said, "; ") + ".", Caption: caption, Source: dataSource(d),
		body: &charts{panels: []panel{p}, alone: true, height: 240}}
}

// momentOf is a moment in days since 1970 by the clocks of a zone.
func momentOf(ms int64, zone *time.Location) float64 {
	_, offset := time.UnixMilli(ms).In(zone).Zone()
	return float64(ms+int64(offset)*1000) / 86_400_000
}
