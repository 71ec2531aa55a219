package figure

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

const (
	// tracksShown is how many single fish a panel shows: more hide each other.
	tracksShown = 30
	// cohortPanels: with more cohorts than this one panel shows them all.
	cohortPanels = 6
)

// track is where one fish was when.
type track struct {
	x, y []float64 // days since 1970, km down
}

// Tracks shows single fish in time and distance, from release to the last
// sighting; nil where the study has no times, or no km of a site.
func Tracks(d *analysis.Data) *Figure {
	h := d.Histories
	if h.First == nil || h.Released == nil || len(h.River.Sites) < 2 {
		return nil
	}
	down := make([]float64, len(h.River.Sites))
	for k, s := range h.River.Sites {
		if down[k] = math.Abs(s.Km - h.River.Sites[0].Km); math.IsNaN(down[k]) {
			return nil
		}
	}
	groups := make([][]track, 1)
	if n := len(h.Cohorts); n <= cohortPanels {
		groups = make([][]track, n)
	}
	low, high := math.Inf(1), math.Inf(-1)
	day := func(ms int64) float64 {
		v := momentOf(ms, d.Study.Location)
		low, high = min(low, v), max(high, v)
		return v
	}
	var rows [][]view.Cell
	for i := range h.Len() {
		if !h.New(i) || h.Released[i] == history.NoTime || h.Seen[i] == 0 {
			continue
		}
		t := track{x: []float64{day(h.Released[i])}, y: []float64{down[h.Entry[i]]}}
		for k := int(h.Entry[i]) + 1; k < len(down); k++ {
			if ms := h.FirstAt(i, k); ms != history.NoTime {
				t.x, t.y = append(t.x, day(ms)), append(t.y, down[k])
			}
		}
		g := 0
		if len(groups) > 1 {
			g = int(h.Cohort[i])
		}
		groups[g] = append(groups[g], t)
	}
	if math.IsInf(low, 1) {
		return nil
	}
	x := timeAxis(low, high, 6)
	y := axis{title: "km below " + h.River.Sites[0].Name, low: slices.Max(down), high: 0}
	for k, s := range h.River.Sites {
		y.ticks = append(y.ticks, tick{down[k], s.Name})
	}
	c := &charts{height: 190}
	if len(groups) == 1 {
		c.height = 380
	}
	shown, all := 0, 0
	for g, list := range groups {
		if len(list) == 0 {
			continue
		}
		name := ""
		if len(groups) > 1 {
			name = h.Cohorts[g]
		}
		all += len(list)
		list = some(list, tracksShown*(1+of(len(groups) == 1)))
		shown += len(list)
		p := panel{title: name, x: x, y: y}
		for n, t := range list {
			for j := range t.x {
				rows = append(rows, []view.Cell{view.T(name), view.I(n + 1), view.N(t.y[j]), view.T(time.Unix(int64(math.Round(t.x[j]*86400)), 0).UTC().Format("2006-01-02 15:04"))})
			}
		}
		p.over = func(s *drawing, px, py func(float64) float64, _, _ float64) {
			for _, t := range list {
				s.strokeRuns(t.x, t.y, px, py, canvas.Unseen, 1)
			}
			for _, t := range list {
				for j := range t.x {
					s.Mark(px(t.x[j]), py(t.y[j]), 1.8, canvas.Disc, canvas.Seen)
				}
			}
		}
		c.panels = append(c.panels, p)
	}
	c.names = func(s *drawing) []entry {
		return []entry{{"released, or first detected at a site", func(x, y float64) { s.Mark(x+13, y+5, 2.5, canvas.Disc, canvas.Seen) }},
			{"one fish, from detection to detection", func(x, y float64) { s.Segment(x, y+5, x+26, y+5, canvas.Unseen, 1.4) }}}
	}
	// Without the tags: a picture must not tell where a protected fish was.
	return &Figure{
		ID:    "tracks",
		Title: "Single fish in time and distance",
		Caption: fmt.Sprintf("%s of the %s detected again, sampled evenly in the order of the tagging table. Between detections a line does not show where the fish was; it ends at the last detection. "+view.SingleFish,
			view.Digits(float64(shown), 0), view.Plural(all, "fish", "fish")),
		Source: dataSource(d),
		Description: fmt.Sprintf("Lines of single fish: time from left to right, the river from top to bottom. %d fish are drawn, from %s on.",
			shown, date(math.Floor(low))),
		Table: view.Table{ID: "tracks", CSVOnly: true, Rows: rows, Columns: []view.Column{{Name: "cohort"}, {Name: "fish", Kind: view.Count},
			{Name: "km_down", Kind: view.Number, Digits: 1}, {Name: "time"}}},
		body: c,
	}
}

// some are at most so many of a list, evenly chosen.
func some[T any](list []T, most int) []T {
	if len(list) <= most {
		return list
	}
	out := make([]T, most)
	for i := range out {
		out[i] = list[i*len(list)/most]
	}
	return out
}
