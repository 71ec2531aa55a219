package figure

import (
	"image/color"
	"math"
	"slices"

	"example.org/unseen/cjs"
)

// What an estimate is worth shows in its mark: estimated is filled, borrowed is
// an outline or hatched, one at 0 or 1 has a bar across, one taken as known is
// a cross, and what has an interval alone or is known as a product alone has
// open ends. A legend under the figure explains those that occur, once.

// worth are the legend's words, in the order in which it lists them.
var worth = []struct {
	status cjs.Status
	words  string
}{
	{cjs.Borrowed, "identified only through parameters shared with other sites"},
	{cjs.Boundary, "estimate at 0 or 1"},
	{cjs.Held, "taken as known, not estimated"},
	{cjs.TooEarly, "too early for a value: interval only"},
	{cjs.Inseparable, "not identifiable: only survival × detection is"},
	{cjs.Absent, "no data"},
}

// instead says in words what is no value.
func instead(s cjs.Status) string {
	switch s {
	case cjs.Inseparable:
		return "not identifiable"
	case cjs.TooEarly:
		return "too early"
	default:
		return "no data"
	}
}

// point draws the mark of an estimate with a value at (x, y).
func (s *scene) point(x, y, r float64, l look, status cjs.Status) {
	switch status {
	case cjs.Borrowed:
		s.hollow(x, y, r, l.shape, l.colour)
	case cjs.Held:
		s.mark(x, y, r, cross, l.colour)
	case cjs.Boundary:
		s.mark(x, y, r, l.shape, l.colour)
		s.segment(x, y-r-4, x, y+r+4, l.colour, 2)
	default:
		s.mark(x, y, r, l.shape, l.colour)
	}
}

// reach draws the interval of an estimate from one point to another, level or
// upright. An end that is open, or of an interval alone, is an arrow head.
func (s *scene) reach(from, to point, c color.RGBA, width float64, status cjs.Status, open [2]bool) {
	var dash []float64
	switch status {
	case cjs.Borrowed:
		dash = []float64{4, 2.5}
	case cjs.TooEarly, cjs.Inseparable:
		dash, open = []float64{2, 3}, [2]bool{true, true}
	}
	s.segment(from.x, from.y, to.x, to.y, c, width, dash...)
	length := math.Hypot(to.x-from.x, to.y-from.y)
	if length == 0 {
		return
	}
	dx, dy := (to.x-from.x)/length, (to.y-from.y)/length
	for i, end := range []point{from, to} {
		if !open[i] {
			continue
		}
		in := 5.0
		if i == 1 {
			in = -5
		}
		s.stroke(lines(point{end.x + in*dx - 4*dy, end.y + in*dy + 4*dx}, end, point{end.x + in*dx + 4*dy, end.y + in*dy - 4*dx}), c, width)
	}
}

// hatch fills a rectangle with slanted lines.
func (s *scene) hatch(x, y, w, h float64, c color.RGBA) {
	const step = 6.0
	for d := step / 2; d < w+h; d += step {
		// Along x − x0 + y − y0 = d, within the rectangle.
		x0, y0 := min(d, w), max(0, d-w)
		x1, y1 := max(0, d-h), min(d, h)
		s.segment(x+x0, y+y0, x+x1, y+y1, c, 1.4)
	}
}

// entry is one line of a legend: what is drawn in a box of 26 by 12 pixels
// whose top left corner is given, and what it means.
type entry struct {
	words string
	draw  func(x, y float64)
}

// legend writes entries beside each other, as many as there is room for, and
// returns the height it took.
func (s *scene) legend(y, width float64, entries []entry) float64 {
	const box, gap = 32.0, 18.0
	x, top := 0.0, y
	for i, e := range entries {
		for _, l := range [][]string{wrap(e.words, smallSize, false, width-box)} {
			w := box
			for _, part := range l {
				w = max(w, box+textWidth(part, smallSize, false))
			}
			if i > 0 && x+w > width {
				x = 0
				y += leading
			}
			e.draw(x, y+2)
			for k, part := range l {
				if k > 0 {
					y += leading - 2
				}
				s.text(x+box, y+12, part, words{size: smallSize, colour: &muted})
			}
			x += w + gap
		}
	}
	if len(entries) == 0 {
		return 0
	}
	return y + leading - top + 2
}

// explain are the legend's entries for the statuses that occur, as points with
// intervals or as bars.
func (s *scene) explain(occur []cjs.Status, bars bool) []entry {
	var out []entry
	plain := look{colour: ink, shape: disc}
	for _, k := range worth {
		if !slices.Contains(occur, k.status) {
			continue
		}
		out = append(out, entry{k.words, func(x, y float64) {
			mid := y + 5
			switch {
			case bars && k.status == cjs.Inseparable:
				s.openBar(x, y-1, 26, 12)
			case bars && k.status == cjs.Borrowed:
				s.unsure(x, y-1, 26, 12)
			case bars && k.status == cjs.Boundary:
				s.fill(rectangle(x, y-1, 22, 12), unseenFill)
				s.segment(x+22, y-3, x+22, y+13, ink, 2.4)
			case k.status == cjs.TooEarly:
				s.reach(point{x, mid}, point{x + 26, mid}, ink, 1.8, k.status, [2]bool{})
			case k.status == cjs.Inseparable || k.status == cjs.Absent:
				s.text(x+13, y+10, "–", words{size: smallSize, anchor: middle})
			default:
				if k.status != cjs.Held {
					s.reach(point{x, mid}, point{x + 26, mid}, ink, lineWidth, k.status, [2]bool{})
				}
				s.point(x+13, mid, 4.5, plain, k.status)
			}
		}})
	}
	return out
}

// unsure is the bar of an estimate that rests on other sites: hatched, its
// outline broken.
func (s *scene) unsure(x, y, w, h float64) {
	s.fill(rectangle(x, y, w, h), paper)
	s.hatch(x, y, w, h, unseenFill)
	s.stroke(rectangle(x, y, w, h), seenFill, hairline, 4, 2)
}

// openBar is the bar of what cannot be told: it has no end.
func (s *scene) openBar(x, y, w, h float64) {
	s.segment(x, y, x+w, y, muted, hairline, 2, 3)
	s.segment(x, y+h, x+w, y+h, muted, hairline, 2, 3)
}
