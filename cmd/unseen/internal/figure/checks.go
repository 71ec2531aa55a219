package figure

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Expected shows the counts of the tables of the goodness of fit against what
// the model expects; nil where nothing was tested.
func Expected(d *analysis.Fitted, a *assess.Result) *Figure {
	t := view.Table{ID: "observed_and_expected", CSVOnly: true, Columns: []view.Column{
		{Name: "check"}, {Name: "site"}, {Name: "line", Kind: view.Count}, {Name: "column", Kind: view.Count},
		{Name: "observed", Kind: view.Count}, {Name: "expected", Kind: view.Number, Digits: 1}, {Name: "p", Kind: view.Number, Digits: 3}}}
	type cell struct {
		x, y float64
		low  bool
	}
	var cells []cell
	highest, below, outside := 1.0, 0, 0
	for i := range a.Tables {
		x := &a.Tables[i]
		counts := x.Tested()
		if x.Method == "" || len(counts) == 0 {
			continue
		}
		if x.P < assess.Level {
			below++
		}
		lines, columns, all := make([]float64, len(counts)), make([]float64, len(counts[0])), 0.0
		for r, row := range counts {
			for c, n := range row {
				lines[r] += float64(n)
				columns[c] += float64(n)
				all += float64(n)
			}
		}
		for r, row := range counts {
			for c, n := range row {
				expected := lines[r] * columns[c] / all
				cells = append(cells, cell{math.Sqrt(expected), math.Sqrt(float64(n)), x.P < assess.Level})
				highest = max(highest, expected, float64(n))
				if math.Abs(math.Sqrt(float64(n))-math.Sqrt(expected)) > 1 {
					outside++
				}
				t.Rows = append(t.Rows, []view.Cell{view.T(x.Check), view.T(d.Histories.River.Sites[x.Site].Name), view.I(r + 1), view.I(c + 1), view.I(n), view.N(expected), view.N(x.P)})
			}
		}
	}
	if len(cells) == 0 {
		return nil
	}
	// On a square-root scale counts scatter alike, by half of 1, small or large.
	root := func(title string) axis {
		a := axis{title: title, high: math.Sqrt(highest) * 1.03}
		for _, v := range numberAxis("", 0, highest, 6).ticks {
			if v.at <= highest*1.06 {
				a.ticks = append(a.ticks, tick{math.Sqrt(v.at), v.label})
			}
		}
		return a
	}
	p := panel{x: root("fish expected (square-root scale)"), y: root("fish counted")}
	p.under = func(s *drawing, px, py func(float64) float64, _, _ float64) {
		top := p.x.high
		s.Fill(canvas.Polygon(canvas.At(px(0), py(0)), canvas.At(px(1), py(0)), canvas.At(px(top), py(top-1)), canvas.At(px(top), py(top)), canvas.At(px(top-1), py(top)), canvas.At(px(0), py(1))), canvas.Band)
		s.Segment(px(0), py(0), px(top), py(top), canvas.Muted, canvas.Hairline)
	}
	p.over = func(s *drawing, px, py func(float64) float64, _, _ float64) {
		for _, c := range cells {
			if c.low {
				s.Mark(px(c.x), py(c.y), 3.5, canvas.Square, canvas.Series[1].Colour)
			} else {
				s.Mark(px(c.x), py(c.y), 2.6, canvas.Disc, canvas.Seen)
			}
		}
	}
	body := &charts{height: 330, panels: []panel{p}}
	body.names = func(s *drawing) []entry {
		out := []entry{{"a count of a table", func(x, y float64) { s.Mark(x+13, y+5, 2.6, canvas.Disc, canvas.Seen) }}}
		if below > 0 {
			out = append(out, entry{"of a table with p < 0.05", func(x, y float64) { s.Mark(x+13, y+5, 3.5, canvas.Square, canvas.Series[1].Colour) }})
		}
		return append(out, s.swatch("where about 95 % of the counts lie if the model holds", canvas.Band))
	}
	tested := "no table has enough fish to be tested"
	if a.Tested > 0 {
		tested = view.Digits(float64(below), 0) + " of " + view.Plural(a.Tested, "table") + " have p < 0.05"
	}
	finding := fmt.Sprintf("%s of %s lie outside the band; %s.", view.Digits(float64(outside), 0), view.Plural(len(cells), "count"), tested)
	return &Figure{
		ID:          "observed-and-expected",
		Title:       "Observed against expected",
		Caption:     finding + " Counts of the contingency tables of the checks, as pooled for the test, against what is expected where fish of a release group behave alike.",
		Source:      joined(d.Source().Name(), "the fully reach- and group-specific model", fish(d.Data)),
		Description: "Points of counts against expected counts, with the line of equality and a band. " + finding,
		Table:       t,
		body:        body,
	}
}
