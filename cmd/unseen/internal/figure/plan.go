package figure

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/view"
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
			if c.Name != option || len(l) == len(series) {
				continue
			}
			name := option
			if name == "" {
				name = "as planned"
			}
			x := line{label: name, look: lookOf(len(l))}
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
				said = append(said, fmt.Sprintf("%s: ± %s points with %d fish, ± %s with %d", name,
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
	x := countAxis("fish tagged in all", most, 5)
	y := numberAxis("half-width of the interval to expect, ± percentage points", 0, highest, 5)
	return &Figure{
		ID:    "half_width_by_fish",
		Title: "What more fish, or a change, would bring: " + d.Target.Words(p),
		Description: "Half-width of the interval to expect against the number of fish tagged, as planned and with the options that bring most. " +
			sentence(said),
		Table: t,
		body:  &charts{height: 260, panels: []panel{{x: x, y: y, lines: l, rules: []rule{{x: float64(p.Fish()), label: "planned"}}}}},
	}
}
