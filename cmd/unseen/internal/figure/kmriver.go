package figure

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// scaled is the river to a scale of km, as wide as fish passed.
type scaled struct {
	places []scaledPlace
	length float64
}

type scaledPlace struct {
	name, aside string
	down        float64
	rows        int
	passed      cjs.Estimate // percent; 100 at the release
}

// River shows the sites to a scale of km, and the share of the fish that passed
// as the width of the river; nil where the study gives no km.
func River(d *analysis.Fitted) *Figure {
	r := &d.Histories.River
	out := &scaled{}
	first := cjs.Estimate{Value: 100, Low: 100, High: 100}
	for k, s := range r.Sites {
		down := math.Abs(s.Km - r.Sites[0].Km)
		if math.IsNaN(down) {
			return nil
		}
		out.length = max(out.length, down)
		aside := "km " + view.Digits(s.Km, 1)
		if k > 0 && s.Divided() {
			aside += ", " + view.Plural(s.RowCount(), "row")
		}
		p := scaledPlace{name: s.Name, aside: aside, down: down, rows: s.RowCount(), passed: cjs.NoEstimate(cjs.Absent)}
		if k == 0 {
			p.passed = first
		}
		out.places = append(out.places, p)
	}
	if !(out.length > 0) {
		return nil
	}
	running := d.Fit.Problem.Running()
	sofar := ""
	if running {
		sofar = " so far"
	}
	longest, reach := 0.0, 0
	for i := range len(r.Sites) - 1 {
		if km := r.ReachKm(i); km > longest {
			longest, reach = km, i
		}
	}
	for _, p := range d.Fit.Passed {
		if len(p.Of) == 0 {
			e := p.PassedShare
			if running {
				e = p.SoFar
			}
			out.places[p.Site].passed = percent(e)
		}
	}
	if !slices.ContainsFunc(out.places[1:], func(p scaledPlace) bool { return !math.IsNaN(p.passed.Value) }) {
		return nil // a river without a width
	}
	finding := fmt.Sprintf("%s km from %s to %s; the longest reach, %s, has %s km.", view.Digits(out.length, 1), r.Sites[0].Name, r.Sites[len(r.Sites)-1].Name, r.Reach(reach), view.Digits(longest, 1))
	caption := finding + " The width is the share of all fish released that passed" + sofar
	if slices.ContainsFunc(out.places, func(p scaledPlace) bool { return math.IsNaN(p.passed.Value) }) {
		caption += ", and dashed where that is not known"
	}
	return &Figure{
		ID:          "river",
		Title:       "The river, to scale",
		Caption:     caption + ".",
		Source:      source(d),
		Description: "The sites along the river to a scale of km, its width the share of all fish released that passed" + sofar + ". " + finding,
		body:        out,
	}
}

func (r *scaled) draw(s *drawing, width float64) float64 {
	const top, least = 26.0, 34.0
	n := len(r.places)
	height := max(300, least*1.1*float64(n))
	widest := min(110, width*.2)
	axisAt := 44.0
	centre := axisAt + 26 + widest/2
	y := func(km float64) float64 { return top + height*km/r.length }
	half := func(e cjs.Estimate) float64 { return widest / 2 * e.Value / 100 }

	s.Text(0, top-12, "km down", canvas.TextStyle{Size: canvas.SmallSize, Colour: &canvas.Muted})
	ax := numberAxis("", 0, r.length, 6)
	s.Segment(axisAt, y(0), axisAt, y(r.length), canvas.Muted, canvas.Hairline)
	for _, t := range ax.ticks {
		if t.at <= r.length*(1+1e-9) {
			s.Segment(axisAt-4, y(t.at), axisAt, y(t.at), canvas.Muted, canvas.Hairline)
			s.Text(axisAt-8, y(t.at)+4, t.label, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
		}
	}
	for i := range n - 1 {
		a, b := &r.places[i], &r.places[i+1]
		if math.IsNaN(a.passed.Value) || math.IsNaN(b.passed.Value) {
			s.Segment(centre, y(a.down), centre, y(b.down), canvas.Unseen, 1.6, 3, 4)
			continue
		}
		s.Fill(canvas.Polygon(canvas.At(centre-half(a.passed), y(a.down)), canvas.At(centre+half(a.passed), y(a.down)),
			canvas.At(centre+half(b.passed), y(b.down)), canvas.At(centre-half(b.passed), y(b.down))), canvas.Unseen)
	}
	// Labels keep their distance; a line leads to the site.
	at := make([]float64, n)
	for i := range n {
		at[i] = y(r.places[i].down)
		if i > 0 {
			at[i] = max(at[i], at[i-1]+least)
		}
	}
	limit := y(r.length) + 6
	for i := n - 1; i >= 0; i-- {
		at[i] = min(at[i], limit)
		limit = at[i] - least
	}
	names := centre + widest/2 + 40
	right := names
	for _, p := range r.places {
		right = max(right, names+canvas.TextWidth(p.name, canvas.TextSize, true), names+canvas.TextWidth(p.aside, canvas.SmallSize, false))
	}
	right = min(right+24, width-100)
	for i := range r.places {
		p := &r.places[i]
		place := y(p.down)
		for k := range p.rows {
			dy := 3 * (float64(k) - float64(p.rows-1)/2)
			s.Segment(centre-widest/2-6, place+dy, centre+widest/2+6, place+dy, canvas.Ink, 1.4)
		}
		s.Stroke(canvas.Lines(canvas.At(centre+widest/2+6, place), canvas.At(names-20, at[i]), canvas.At(names-6, at[i])), canvas.Muted, canvas.Hairline)
		s.Text(names, at[i]+1, canvas.Shorten(canvas.Wrap(p.name, canvas.TextSize, true, right-names), 1)[0], canvas.TextStyle{Bold: true})
		s.Text(names, at[i]+15, p.aside, canvas.TextStyle{Size: canvas.SmallSize, Colour: &canvas.Muted})
		value := instead(p.passed.Status)
		if i == 0 {
			value = "released"
		} else if !math.IsNaN(p.passed.Value) {
			value = view.Digits(p.passed.Value, 1) + " % passed"
		}
		s.shows("passed "+p.name, p.passed, func() {
			s.Text(width, at[i]+1, value, canvas.TextStyle{Size: canvas.SmallSize, Bold: true, Anchor: canvas.End})
			if i > 0 {
				s.Text(width, at[i]+15, interval(p.passed), canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
			}
		})
	}
	bottom := max(y(r.length), at[n-1]) + 28
	var occur []cjs.Status
	for _, p := range r.places[1:] {
		if p.passed.Status == cjs.Borrowed {
			occur = append(occur, cjs.Borrowed)
		}
	}
	return bottom + s.legend(bottom, width, s.explain(occur, true))
}
