package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
	"example.org/unseen/history/growth"
)

// Lengths shows how long the fish were that were detected again and those that were
// not; nil where the study has no lengths.
func Lengths(d *analysis.Data) *Figure {
	h := d.Histories
	var column *history.Column
	for _, name := range growth.Lengths {
		if c := h.Column(name); column == nil && c != nil && !c.IsCategory() {
			column = c
		}
	}
	if column == nil {
		return nil
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i, v := range column.Value {
		if h.New(i) && !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	if !(high > low) {
		return nil
	}
	named := label(d, column.Name)
	x := numberAxis(named, low, high, 6)
	const bins = 20
	by := (x.high - x.low) / bins
	var seen, never [bins]int
	var sums [2]float64
	for i, v := range column.Value {
		if !h.New(i) || math.IsNaN(v) {
			continue
		}
		b := min(bins-1, int((v-x.low)/by))
		if h.Seen[i] != 0 {
			seen[b] += h.Weight(i)
			sums[0] += v * float64(h.Weight(i))
		} else {
			never[b] += h.Weight(i)
			sums[1] += v * float64(h.Weight(i))
		}
	}
	unseen := "never detected again"
	if d.Running() {
		unseen = "not seen since"
	}
	t := view.Table{ID: "length_seen", Columns: []view.Column{{Name: "from", Title: "from", Kind: view.Number, Digits: digitsOf(by), Key: true}, {Name: "to", Title: "to", Kind: view.Number, Digits: digitsOf(by)},
		{Name: "seen", Title: "detected again", Kind: view.Count}, {Name: "not_seen", Title: unseen, Kind: view.Count}, {Name: "seen_percent", Title: "detected again %", Kind: view.Range, Digits: 1}}}
	counts := panel{x: x}
	shares := panel{x: x, y: percentAxis("% detected again, with 95 % interval")}
	z := distuv.UnitNormal.Quantile(.975)
	highest := 0.0
	var at []float64
	var points []cjs.Estimate
	n := [2]int{}
	for b := range bins {
		from := x.low + by*float64(b)
		s, u := float64(seen[b]), float64(never[b])
		n[0], n[1] = n[0]+seen[b], n[1]+never[b]
		counts.bars = append(counts.bars, bar{from, from + by, 0, s, canvas.Seen}, bar{from, from + by, s, s + u, canvas.Unseen})
		highest = max(highest, s+u)
		if seen[b]+never[b] == 0 {
			continue
		}
		e := percent(cjs.Wilson(seen[b], seen[b]+never[b], z))
		at, points = append(at, from+by/2), append(points, e)
		t.Rows = append(t.Rows, []view.Cell{view.N(from), view.N(from + by), view.I(seen[b]), view.I(never[b]), view.R(e.Value, e.Low, e.High)})
	}
	counts.y = countAxis("fish", highest, 4)
	shares.over = func(s *drawing, px, py func(float64) float64, _, _ float64) {
		for i, e := range points {
			s.reach(canvas.At(px(at[i]), py(e.Low)), canvas.At(px(at[i]), py(e.High)), canvas.Seen, 1.6, e.Status, [2]bool{})
			s.Mark(px(at[i]), py(e.Value), 3, canvas.Disc, canvas.Seen)
		}
	}
	body := &charts{height: 180, panels: []panel{counts, shares}}
	body.names = func(s *drawing) []entry {
		return []entry{s.swatch("detected again below", canvas.Seen), s.swatch(unseen, canvas.Unseen)}
	}
	finding := ""
	if n[0] > 0 && n[1] > 0 {
		finding = fmt.Sprintf("Mean %s: %s of fish detected again, %s of those %s.", named, view.Digits(sums[0]/float64(n[0]), 1), view.Digits(sums[1]/float64(n[1]), 1), unseen)
	}
	return &Figure{
		ID:          "length-seen",
		Title:       capital(named) + " of fish seen and not seen",
		Caption:     strings.TrimSpace(finding + " Being seen is survival times detection; a difference may come from the release groups."),
		Source:      dataSource(d),
		Description: "Bars of fish by " + named + ", those detected again and those " + unseen + ", and the share detected again. " + finding,
		Table:       t,
		body:        body,
	}
}

// digitsOf are the decimals that a step needs.
func digitsOf(by float64) int {
	for k := range 4 {
		if x := by * math.Pow10(k); math.Abs(x-math.Round(x)) < 1e-6 {
			return k
		}
	}
	return 3
}
