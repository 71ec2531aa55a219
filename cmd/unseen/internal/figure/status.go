package figure

import (
	"image/color"
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/canvas"
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

// shows draws a mark and notes the estimate it shows.
func (s *drawing) shows(key string, e cjs.Estimate, draw func()) {
	s.Show(canvas.Datum{Key: key, Status: string(e.Status), Value: e.Value, Low: e.Low, High: e.High}, draw)
}

// point draws the mark of an estimate with a value at (x, y).
func (s *drawing) point(x, y, r float64, l canvas.Look, status cjs.Status) {
	switch status {
	case cjs.Borrowed:
		s.Hollow(x, y, r, l.Shape, l.Colour)
	case cjs.Held:
		s.Mark(x, y, r, canvas.Cross, l.Colour)
	case cjs.Boundary:
		s.Mark(x, y, r, l.Shape, l.Colour)
		s.Segment(x, y-r-4, x, y+r+4, l.Colour, 2)
	default:
		s.Mark(x, y, r, l.Shape, l.Colour)
	}
}

// reach draws the interval of an estimate from one point to another, level or
// upright. An end that is open, or of an interval alone, is an arrow head.
func (s *drawing) reach(from, to canvas.Point, c color.RGBA, width float64, status cjs.Status, open [2]bool) {
	var dash []float64
	switch status {
	case cjs.Borrowed:
		dash = []float64{4, 2.5}
	case cjs.TooEarly, cjs.Inseparable:
		dash, open = []float64{2, 3}, [2]bool{true, true}
	}
	s.Segment(from.X, from.Y, to.X, to.Y, c, width, dash...)
	length := math.Hypot(to.X-from.X, to.Y-from.Y)
	if length == 0 {
		return
	}
	dx, dy := (to.X-from.X)/length, (to.Y-from.Y)/length
	for i, end := range []canvas.Point{from, to} {
		if !open[i] {
			continue
		}
		in := 5.0
		if i == 1 {
			in = -5
		}
		s.Stroke(canvas.Lines(canvas.At(end.X+in*dx-4*dy, end.Y+in*dy+4*dx), end, canvas.At(end.X+in*dx+4*dy, end.Y+in*dy-4*dx)), c, width)
	}
}

// hatch fills a rectangle with slanted lines.
func (s *drawing) hatch(x, y, w, h float64, c color.RGBA) {
	const step = 6.0
	for d := step / 2; d < w+h; d += step {
		// Along x − x0 + y − y0 = d, within the rectangle.
		x0, y0 := min(d, w), max(0, d-w)
		x1, y1 := max(0, d-h), min(d, h)
		s.Segment(x+x0, y+y0, x+x1, y+y1, c, 1.4)
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
func (s *drawing) legend(y, width float64, entries []entry) float64 {
	const box, gap = 32.0, 18.0
	x, top := 0.0, y
	for i, e := range entries {
		for _, l := range [][]string{canvas.Wrap(e.words, canvas.SmallSize, false, width-box)} {
			w := box
			for _, part := range l {
				w = max(w, box+canvas.TextWidth(part, canvas.SmallSize, false))
			}
			if i > 0 && x+w > width {
				x = 0
				y += canvas.Leading
			}
			e.draw(x, y+2)
			for k, part := range l {
				if k > 0 {
					y += canvas.Leading - 2
				}
				s.Text(x+box, y+12, part, canvas.TextStyle{Size: canvas.SmallSize, Colour: &canvas.Muted})
			}
			x += w + gap
		}
	}
	if len(entries) == 0 {
		return 0
	}
	return y + canvas.Leading - top + 2
}

// explain are the legend's entries for the statuses that occur, as points with
// intervals or as bars.
func (s *drawing) explain(occur []cjs.Status, bars bool) []entry {
	var out []entry
	plain := canvas.Look{Colour: canvas.Ink, Shape: canvas.Disc}
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
				s.Fill(canvas.Rectangle(x, y-1, 22, 12), canvas.Unseen)
				s.Segment(x+22, y-3, x+22, y+13, canvas.Ink, 2.4)
			case k.status == cjs.TooEarly:
				s.reach(canvas.At(x, mid), canvas.At(x+26, mid), canvas.Ink, 1.8, k.status, [2]bool{})
			case k.status == cjs.Inseparable || k.status == cjs.Absent:
				s.Text(x+13, y+10, "–", canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.Middle})
			default:
				if k.status != cjs.Held {
					s.reach(canvas.At(x, mid), canvas.At(x+26, mid), canvas.Ink, canvas.LineWidth, k.status, [2]bool{})
				}
				s.point(x+13, mid, 4.5, plain, k.status)
			}
		}})
	}
	return out
}

// unsure is the bar of an estimate that rests on other sites: hatched, its
// outline broken.
func (s *drawing) unsure(x, y, w, h float64) {
	s.Fill(canvas.Rectangle(x, y, w, h), canvas.Paper)
	s.hatch(x, y, w, h, canvas.Unseen)
	s.Stroke(canvas.Rectangle(x, y, w, h), canvas.Seen, canvas.Hairline, 4, 2)
}

// openBar is the bar of what cannot be told: it has no end.
func (s *drawing) openBar(x, y, w, h float64) {
	s.Segment(x, y, x+w, y, canvas.Muted, canvas.Hairline, 2, 3)
	s.Segment(x, y+h, x+w, y+h, canvas.Muted, canvas.Hairline, 2, 3)
}
