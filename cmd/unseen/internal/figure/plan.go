package figure

import (
	"math"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
)

// HalfWidths shows the half-width to expect against the fish tagged, for the
// plan as it is and for the options that bring most, as many as can be told
// apart; nil where there is nothing to draw.
func HalfWidths(d *analysis.Planned) *Figure {
	p := d.Forecast.Plan
	if len(d.Curves) == 0 {
		return nil
	}
	t := view.Table{ID: "half_width_by_fish", Columns: []view.Column{
		{Name: "option", Title: "option", Key: true}, {Name: "fish", Title: "fish", Kind: view.Count},
		{Name: "half_width_points", Title: "± points", Kind: view.Number, Digits: 1}}}
	var l []line
	var said []string
	highest, most := 0.0, 0.0
	add := func(option string) {
		for _, c := range d.Curves {
			if c.Name != option || len(l) == len(canvas.Series) {
				continue
			}
			name := option
			if name == "" {
				name = "as planned"
			}
			x := line{label: name, look: canvas.LookOf(len(l))}
			any := false
			for i, n := range c.Fish {
				x.x, x.y = append(x.x, float64(n)), append(x.y, 100*c.Half[i])
				most = max(most, float64(n))
				if !math.IsNaN(c.Half[i]) {
					any = true
					highest = max(highest, 100*c.Half[i])
				}
				t.Rows = append(t.Rows, []view.Cell{view.T(name), view.I(n), view.N(100 * c.Half[i])})
			}
			if any {
				l = append(l, x)
				k := len(c.Fish) - 1
				said = append(said, history.Say("%s: ± %s points with %d fish, ± %s with %d", name,
					view.Digits(100*c.Half[0], 1), c.Fish[0], view.Digits(100*c.Half[k], 1), c.Fish[k]))
			}
		}
	}
	add("")
	for _, c := range d.Comparisons {
		if c.Why == "" {
			add(c.Name)
		}
	}
	if len(l) == 0 {
		return nil
	}
	quantity := d.Target.Words(p)
	wanted := 100 * d.Target.HalfWidth
	x := countAxis("fish tagged in all", most, 5)
	y := numberAxis("half-width of the interval to expect for "+quantity+", ± percentage points", 0, max(highest, wanted), 5)
	pan := panel{x: x, y: y, lines: l, rules: []rule{{x: float64(p.Fish()), label: "planned"}}}
	caption := capital(said[0]) + "."
	if wanted > 0 {
		for _, n := range d.Needs {
			if n.Target == d.Target {
				caption += " " + view.NeedLine(p, n)
			}
		}
		pan.under = func(s *drawing, px, py func(float64) float64, top, bottom float64) {
			s.shows("wanted", cjs.Estimate{Value: wanted, Low: math.NaN(), High: math.NaN()}, func() {
				s.Segment(px(x.low), py(wanted), px(x.high), py(wanted), canvas.Ink, 1.4)
			})
			s.Text(px(x.low)+4, py(wanted)-5, "wanted ± "+wish(wanted), canvas.TextStyle{Size: canvas.SmallSize, Halo: true})
		}
	}
	return &Figure{
		ID:      "half_width_by_fish",
		Title:   "What more fish, or a change, would bring: " + quantity,
		Caption: caption,
		Source:  joined("plan of "+d.Name(), "model "+d.Forecast.Words(), "n = "+view.Digits(float64(p.Fish()), 0)+" fish planned"),
		Description: "Half-width of the interval to expect for " + quantity + " against the number of fish tagged, as planned and with the options that bring most. " +
			capital(sentence(said)),
		Table: t,
		body:  &charts{height: 260, panels: []panel{pan}},
	}
}

// wish is a half-width wanted, in points.
func wish(points float64) string { return strings.TrimSuffix(view.Digits(points, 1), ".0") }
