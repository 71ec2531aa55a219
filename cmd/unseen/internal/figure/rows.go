package figure

import (
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/view"
)

// rows is a chart of values with intervals, one on each line, under headings.
type rows struct {
	axis   axis
	digits int
	groups []rowGroup
}

type rowGroup struct {
	title, aside string
	rows         []row
}

type row struct {
	label string
	cjs.Estimate
	look look
	// strong rows are drawn heavier.
	strong bool
}

const (
	rowPitch   = 22
	groupSpace = 12
)

// instead says in words what is no value.
func instead(s cjs.Status) string {
	switch s {
	case cjs.Inseparable:
		return "known only as a product"
	case cjs.TooEarly:
		return "too early to tell"
	default:
		return "nothing to estimate it from"
	}
}

func (r *rows) draw(s *scene, width float64) float64 {
	wide := width >= Wide
	value := func(x *row) string {
		switch {
		case math.IsNaN(x.Value):
			return ""
		case x.Status == cjs.Held:
			return view.Digits(x.Value, r.digits) + " (held)"
		case wide:
			return view.Digits(x.Value, r.digits) + view.Bracket(x.Low, x.High, r.digits, "")
		}
		return view.Digits(x.Value, r.digits)
	}
	labels, values := 0.0, 0.0
	for _, g := range r.groups {
		for i := range g.rows {
			labels = max(labels, textWidth(g.rows[i].label, textSize, g.rows[i].strong))
			values = max(values, textWidth(value(&g.rows[i]), smallSize, g.rows[i].strong))
		}
	}
	labels = min(labels, width*.34)
	left, right := labels+24, width-values-16
	at := func(x float64) float64 { return left + (right-left)*r.axis.of(x) }

	// The grid lies under the words, and its length is known when they stand.
	over := s.ops
	s.ops = nil
	y := 4.0
	type placed struct {
		*row
		y float64
	}
	var all []placed
	for _, g := range r.groups {
		if g.title != "" {
			y += leading
			s.text(0, y, g.title, words{bold: true, halo: true})
			if g.aside != "" {
				s.text(textWidth(g.title, textSize, true)+8, y, g.aside, words{colour: &muted, halo: true})
			}
			y += 6
		}
		for i := range g.rows {
			lines := wrap(g.rows[i].label, textSize, g.rows[i].strong, labels)
			y += rowPitch
			all = append(all, placed{&g.rows[i], y - 4})
			for k, l := range lines {
				if k > 0 {
					y += leading
				}
				s.text(12, y, l, words{bold: g.rows[i].strong})
			}
		}
		y += groupSpace
	}
	bottom := y
	s.ops, over = over, s.ops
	for _, t := range r.axis.thin(right - left) {
		s.segment(at(t.at), 6, at(t.at), bottom, grid, hairline)
		s.text(at(t.at), bottom+leading, t.label, words{size: smallSize, anchor: middle, colour: &muted})
	}
	s.segment(left, bottom, right, bottom, muted, hairline)
	s.ops = append(s.ops, over...)
	for _, x := range all {
		if math.IsNaN(x.Value) {
			if !math.IsNaN(x.Low) && !math.IsNaN(x.High) {
				s.segment(at(max(x.Low, r.axis.low)), x.y, at(min(x.High, r.axis.high)), x.y, x.look.colour, lineWidth, 4, 3)
			}
			s.text(left+4, x.y+4, instead(x.Status), words{size: smallSize, colour: &muted, halo: true})
			continue
		}
		w, size := float64(lineWidth), 4.5
		if x.strong {
			w, size = 3, 5.5
		}
		if !math.IsNaN(x.Low) && !math.IsNaN(x.High) {
			low, high := max(x.Low, r.axis.low), min(x.High, r.axis.high)
			s.segment(at(low), x.y, at(high), x.y, x.look.colour, w)
		}
		shape := x.look.shape
		switch x.Status {
		case cjs.Held:
			shape = box
		case cjs.Boundary:
			shape = triangle
		}
		s.mark(at(x.Value), x.y, size, shape, x.look.colour)
		s.text(right+14, x.y+4, value(x.row), words{size: smallSize, bold: x.strong})
	}
	y = bottom + 2*leading + 4
	for _, l := range wrap(r.axis.title, smallSize, false, width) {
		s.text(width, y, l, words{size: smallSize, anchor: end, colour: &muted})
		y += leading
	}
	return y - leading + 8
}
