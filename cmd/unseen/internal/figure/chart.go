package figure

import (
	"image/color"
	"math"
	"slices"

	"example.org/unseen/cmd/unseen/internal/canvas"
)

// charts are panels with two axes each, beside each other where there is room.
type charts struct {
	panels []panel
	// alone puts each panel on a line of its own.
	alone  bool
	height float64 // of a panel's plot; 0 means 200
	// names explains areas, lines and marks, above the panels; may be nil.
	names func(s *drawing) []entry
}

type panel struct {
	title string
	x, y  axis
	bars  []bar
	lines []line
	// rules are marked positions along x.
	rules []rule
	// aside is said at the right edge.
	aside string
	// under and over draw what else there is, beneath the lines and above
	// them, in a plot from top to bottom.
	under, over func(s *drawing, x, y func(float64) float64, top, bottom float64)
}

// swatch is the legend's entry of an area.
func (s *drawing) swatch(words string, c color.RGBA) entry {
	return entry{words, func(x, y float64) { s.Fill(canvas.Rectangle(x, y-1, 26, 12), c) }}
}

// stretch is the legend's entry of a line.
func (s *drawing) stretch(words string, l canvas.Look) entry {
	return entry{words, func(x, y float64) { s.Segment(x, y+5, x+26, y+5, l.Colour, canvas.LineWidth, l.Dash...) }}
}

// bar is an area from (x0, y0) to (x1, y1).
type bar struct {
	x0, x1, y0, y1 float64
	fill           color.RGBA
}

// line is a curve, with a band where low and high are given.
type line struct {
	label     string
	x, y      []float64
	low, high []float64
	look      canvas.Look
	// points draws a mark at each x.
	points bool
}

// beside is how many panels stand beside each other.
func (c *charts) beside(width float64) int {
	switch {
	case len(c.panels) < 2 || c.alone:
		return 1
	case width < Wide:
		return 1
	case len(c.panels) > 8, len(c.panels) > 4 && c.panels[0].labelWidth() == 0:
		return 3
	}
	return 2
}

func (c *charts) plotHeight() float64 {
	if c.height == 0 {
		return 200
	}
	return c.height
}

func (c *charts) draw(s *drawing, width float64) float64 {
	columns := c.beside(width)
	const gutter = 28.0
	each := (width - gutter*float64(columns-1)) / float64(columns)
	var key []entry
	if c.names != nil {
		key = c.names(s)
	}
	y, deepest := s.legend(0, width, key), 0.0
	for i := range c.panels {
		k := i % columns
		if k == 0 {
			y, deepest = y+deepest, 0
		}
		h := max(c.plotHeight(), labelPitch*float64(len(c.panels[i].lines)+1))
		deepest = max(deepest, c.panels[i].draw(s, float64(k)*(each+gutter), y, each, h)+14)
	}
	return y + deepest - 6
}

// pages are the panels in parts that fit on a sheet each.
func (c *charts) pages() []body {
	lines := max(1, int(pageHeight/(c.plotHeight()+100)))
	var out []body
	for some := range slices.Chunk(c.panels, lines*c.beside(Wide)) {
		one := *c
		one.panels = some
		out = append(out, &one)
	}
	return out
}

// draw puts the panel at (x, y) and returns the height it took.
func (p *panel) draw(s *drawing, x, y, width, plotHeight float64) float64 {
	top := y + 6
	if p.title != "" {
		for _, l := range canvas.Wrap(p.title, canvas.TextSize, true, width) {
			top += canvas.Leading - 3
			s.Text(x, top, l, canvas.TextStyle{Bold: true})
			top += 4
		}
	}
	for _, l := range canvas.Wrap(p.y.title, canvas.SmallSize, false, width) {
		top += canvas.Leading - 2
		s.Text(x, top, l, canvas.TextStyle{Size: canvas.SmallSize, Colour: &canvas.Muted})
	}
	if len(p.rules) > 0 {
		top += canvas.Leading
	}
	top += 10
	bottom := top + plotHeight
	ticks := 0.0
	for _, t := range p.y.ticks {
		ticks = max(ticks, canvas.TextWidth(t.label, canvas.SmallSize, false))
	}
	left, right := x+ticks+8, x+width
	if labels := p.labelWidth(); labels > 0 {
		right -= min(labels, width*.4) + 10
	} else if n := len(p.x.ticks); n > 0 {
		right -= max(8, canvas.TextWidth(p.x.ticks[n-1].label, canvas.SmallSize, false)/2)
	}
	px := func(v float64) float64 { return left + (right-left)*p.x.of(v) }
	py := func(v float64) float64 { return bottom - plotHeight*p.y.of(v) }

	for _, t := range p.y.ticks {
		s.Segment(left, py(t.at), right, py(t.at), canvas.Grid, canvas.Hairline)
		s.Text(left-6, py(t.at)+4, t.label, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
	}
	if p.under != nil {
		p.under(s, px, py, top, bottom)
	}
	for _, b := range p.bars {
		s.Fill(canvas.Rectangle(px(b.x0)+.5, py(b.y1), max(.5, px(b.x1)-px(b.x0)-1), py(b.y0)-py(b.y1)), b.fill)
	}
	for _, l := range p.lines {
		if l.low != nil {
			s.bandOf(&l, px, py)
		}
	}
	for _, l := range p.lines {
		if l.low != nil {
			for _, edge := range [][]float64{l.low, l.high} {
				s.strokeRuns(l.x, edge, px, py, l.look.Colour, 1.2, 1.5, 2)
			}
		}
		s.strokeRuns(l.x, l.y, px, py, l.look.Colour, canvas.LineWidth, l.look.Dash...)
		if l.points {
			for i := range l.x {
				if !math.IsNaN(l.y[i]) {
					s.Mark(px(l.x[i]), py(l.y[i]), 3.5, l.look.Shape, l.look.Colour)
				}
			}
		}
	}
	if p.over != nil {
		p.over(s, px, py, top, bottom)
	}
	taken := math.Inf(-1)
	for _, r := range p.rules {
		s.Segment(px(r.x), top-4, px(r.x), bottom, canvas.Ink, 1.4, r.dash...)
		w := canvas.TextWidth(r.label, canvas.SmallSize, false)
		at := max(px(r.x)-w/2, taken+8, left)
		s.Text(at, top-8, r.label, canvas.TextStyle{Size: canvas.SmallSize})
		taken = at + w
	}
	s.Segment(left, bottom, right, bottom, canvas.Muted, canvas.Hairline)
	for _, t := range p.x.thin(right - left) {
		s.Segment(px(t.at), bottom, px(t.at), bottom+4, canvas.Muted, canvas.Hairline)
		s.Text(px(t.at), bottom+canvas.Leading, t.label, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.Middle, Colour: &canvas.Muted})
	}
	if p.aside != "" {
		s.Text(right, top+10, p.aside, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted, Halo: true})
	}
	foot := bottom + canvas.Leading
	for _, l := range canvas.Wrap(p.x.title, canvas.SmallSize, false, right-x) {
		if l == "" {
			continue
		}
		foot += canvas.Leading
		s.Text(right, foot, l, canvas.TextStyle{Size: canvas.SmallSize, Anchor: canvas.End, Colour: &canvas.Muted})
	}
	p.labels(s, px, py, right, top, bottom, width)
	return foot + 6 - y
}

// labelPitch is the distance of labels below each other.
const labelPitch = 15.0

func (p *panel) labelWidth() float64 {
	w := 0.0
	for _, l := range p.lines {
		w = max(w, canvas.TextWidth(l.label, canvas.SmallSize, true))
	}
	return w
}

// labels writes each line's name at its end, pushed apart where they touch.
func (p *panel) labels(s *drawing, px, py func(float64) float64, right, top, bottom, width float64) {
	type label struct {
		y, want float64
		lines   []string
		look    canvas.Look
	}
	var all []label
	for _, l := range p.lines {
		if l.label == "" {
			continue
		}
		for i := len(l.x) - 1; i >= 0; i-- {
			if !math.IsNaN(l.y[i]) {
				y := min(max(py(l.y[i]), top), bottom)
				all = append(all, label{y, y, canvas.Wrap(l.label, canvas.SmallSize, true, width*.4), l.look})
				break
			}
		}
	}
	slices.SortStableFunc(all, func(a, b label) int {
		if a.want < b.want {
			return -1
		}
		if a.want > b.want {
			return 1
		}
		return 0
	})
	const pitch = labelPitch
	floor := math.Inf(-1)
	for i := range all {
		all[i].y = max(all[i].want, floor)
		floor = all[i].y + pitch*float64(len(all[i].lines))
	}
	// What was pushed below the plot comes up again.
	ceiling := bottom - 4
	for i := range slices.Backward(all) {
		all[i].y = min(all[i].y, ceiling-pitch*float64(len(all[i].lines)-1))
		ceiling = all[i].y - pitch
	}
	for _, l := range all {
		for k, t := range l.lines {
			s.Text(right+6, l.y+4+pitch*float64(k), t, canvas.TextStyle{Size: canvas.SmallSize, Bold: true, Colour: &l.look.Colour})
		}
	}
}

// bandOf fills between a line's bounds.
func (s *drawing) bandOf(l *line, px, py func(float64) float64) {
	for _, run := range runs(l.low, l.high) {
		var p canvas.Path
		for i := run[0]; i < run[1]; i++ {
			q := canvas.At(px(l.x[i]), py(l.low[i]))
			if i == run[0] {
				p.Move(q.X, q.Y)
			} else {
				p.Line(q.X, q.Y)
			}
		}
		for i := run[1] - 1; i >= run[0]; i-- {
			p.Line(px(l.x[i]), py(l.high[i]))
		}
		p.Close()
		s.Fill(p, canvas.Band)
	}
}

// strokeRuns draws a line, broken where it has no value.
func (s *drawing) strokeRuns(x, y []float64, px, py func(float64) float64, c color.RGBA, width float64, dash ...float64) {
	for _, run := range runs(y, y) {
		var p canvas.Path
		for i := run[0]; i < run[1]; i++ {
			if i == run[0] {
				p.Move(px(x[i]), py(y[i]))
			} else {
				p.Line(px(x[i]), py(y[i]))
			}
		}
		s.Stroke(p, c, width, dash...)
	}
}

// runs are the stretches [from, to) in which both have values.
func runs(a, b []float64) [][2]int {
	var out [][2]int
	from := -1
	for i := range a {
		there := !math.IsNaN(a[i]) && !math.IsNaN(b[i])
		if there && from < 0 {
			from = i
		}
		if !there && from >= 0 {
			out = append(out, [2]int{from, i})
			from = -1
		}
	}
	if from >= 0 {
		out = append(out, [2]int{from, len(a)})
	}
	return out
}
