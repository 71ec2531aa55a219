package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Effects shows predicted probabilities over the range of each number in the
// model, a figure for each number and part of the model.
func Effects(d *analysis.Fitted) []*Figure {
	var out []*Figure
	seen := map[[2]string]bool{}
	for _, c := range d.Effects.Curves {
		k := [2]string{string(c.Part), c.Number}
		if !seen[k] {
			seen[k] = true
			out = append(out, effect(d, k[0], k[1]))
		}
	}
	return out
}

// mostBands is how many bands in one panel can still be told apart.
const mostBands = 3

func effect(d *analysis.Fitted, part, number string) *Figure {
	named := label(d.Data, number)
	t := view.Table{ID: "effect_" + strings.ReplaceAll(slug(part+"-"+number), "-", "_"), Columns: []view.Column{
		{Name: "place", Title: "place", Key: true}, {Name: "of", Title: "fish", Key: true},
		{Name: "value", Title: named, Kind: view.Number}, {Name: "probability", Title: part, Kind: view.Range, Digits: 3}}}
	var places []string
	at := map[string][]*cjs.Curve{}
	low, high := math.Inf(1), math.Inf(-1)
	for i := range d.Effects.Curves {
		c := &d.Effects.Curves[i]
		if string(c.Part) != part || c.Number != number {
			continue
		}
		place := view.CurvePlace(&d.Histories.River, *c)
		if at[place] == nil {
			places = append(places, place)
		}
		at[place] = append(at[place], c)
		low, high = min(low, c.Points[0].Value), max(high, c.Points[len(c.Points)-1].Value)
		t.Columns[2].Digits = digitsFor(c.Points)
		for j, q := range c.Points {
			if j%5 == 0 || j == len(c.Points)-1 {
				t.Rows = append(t.Rows, []view.Cell{view.T(place), view.T(view.Whom(c.Of)), view.N(q.Value), view.R(q.Estimate.Value, q.Low, q.High)})
			}
		}
	}
	x := numberAxis(named, low, high, 5)
	body := &charts{}
	thinned := 0
	// A group looks the same in every panel.
	looks := map[string]canvas.Look{}
	for _, place := range places {
		kept := middling(at[place])
		thinned = max(thinned, len(at[place])-len(kept))
		p := panel{title: place, x: x, y: shareAxis(part, 1)}
		for _, c := range kept {
			whom := view.Whom(c.Of)
			if _, ok := looks[whom]; !ok {
				looks[whom] = canvas.LookOf(len(looks))
			}
			l := line{look: looks[whom]}
			if len(c.Of) > 0 {
				l.label = whom
			}
			for _, q := range c.Points {
				l.x, l.y = append(l.x, q.Value), append(l.y, q.Estimate.Value)
				l.low, l.high = append(l.low, q.Low), append(l.high, q.High)
			}
			p.lines = append(p.lines, l)
		}
		body.panels = append(body.panels, p)
	}
	caption := fmt.Sprintf("%s Other numbers at their mean; bands are %s intervals.", steepest(places, at, named), level(d.Fit))
	if thinned > 0 {
		caption += " Where more than three groups differ, the lowest, the middle and the highest are drawn; the table has all."
	}
	return &Figure{
		ID:    "effect-" + slug(part+"-"+number),
		Title: capital(part) + " and " + named,
		Description: fmt.Sprintf("Predicted %s over the observed range of %s, other numbers at their mean, with %s intervals as bands. %s",
			part, named, level(d.Fit), rangeSaid(&t)),
		Caption: strings.TrimSpace(caption),
		Source:  source(d),
		Table:   t,
		body:    body,
	}
}

// middling are, of many curves, the one that lies lowest in the middle of the
// range, the one in the middle, and the highest; of few, all.
func middling(curves []*cjs.Curve) []*cjs.Curve {
	if len(curves) <= mostBands {
		return curves
	}
	middle := func(c *cjs.Curve) float64 { return c.Points[len(c.Points)/2].Estimate.Value }
	sorted := slices.DeleteFunc(slices.Clone(curves), func(c *cjs.Curve) bool { return math.IsNaN(middle(c)) })
	if len(sorted) <= mostBands {
		return sorted
	}
	slices.SortStableFunc(sorted, func(a, b *cjs.Curve) int {
		switch x, y := middle(a), middle(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return []*cjs.Curve{sorted[0], sorted[len(sorted)/2], sorted[len(sorted)-1]}
}

// steepest says by how much the prediction changes where it changes most.
func steepest(places []string, at map[string][]*cjs.Curve, number string) string {
	var best *cjs.Curve
	where, most := "", -1.0
	for _, place := range places {
		for _, c := range at[place] {
			a, b := c.Points[0].Estimate.Value, c.Points[len(c.Points)-1].Estimate.Value
			if by := math.Abs(b - a); by > most {
				best, where, most = c, place, by
			}
		}
	}
	if best == nil {
		return ""
	}
	first, last := best.Points[0], best.Points[len(best.Points)-1]
	whom := ""
	if len(best.Of) > 0 {
		whom = ", " + view.Whom(best.Of)
	}
	digits := digitsFor(best.Points)
	return fmt.Sprintf("%s%s: from %s to %s as %s goes from %s to %s.", where, whom, view.Digits(first.Estimate.Value, 3), view.Digits(last.Estimate.Value, 3),
		number, view.Digits(first.Value, digits), view.Digits(last.Value, digits))
}

// rangeSaid says where each curve begins and ends.
func rangeSaid(t *view.Table) string {
	var said []string
	for i, r := range t.Rows {
		first := i == 0 || t.Rows[i-1][0] != r[0] || t.Rows[i-1][1] != r[1]
		if !first {
			continue
		}
		last := i
		for last+1 < len(t.Rows) && t.Rows[last+1][0] == r[0] && t.Rows[last+1][1] == r[1] {
			last++
		}
		said = append(said, fmt.Sprintf("%s, %s: from %s to %s", r[0].Text, r[1].Text, view.Digits(r[3].Value, 3), view.Digits(t.Rows[last][3].Value, 3)))
	}
	return sentence(said)
}

// digitsFor are the decimals that tell a curve's values apart.
func digitsFor(points []cjs.CurvePoint) int {
	if len(points) < 2 {
		return 1
	}
	by := math.Abs(points[1].Value - points[0].Value)
	if by == 0 {
		return 1
	}
	return max(0, 1-int(math.Floor(math.Log10(by))))
}
