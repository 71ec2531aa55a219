package figure

import (
	"image/color"
	"math"
	"slices"
)

// charts are panels with two axes each, beside each other where there is room.
type charts struct {
	panels []panel
	// alone puts each panel on a line of its own.
	alone  bool
	height float64 // of a panel's plot; 0 means 200
	// names explains areas, lines and marks, above the panels; may be nil.
	names func(s *scene) []entry
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
	under, over func(s *scene, x, y func(float64) float64, top, bottom float64)
}

// swatch is the legend's entry of an area.
func (s *scene) swatch(words string, c color.RGBA) entry {
	return entry{words, func(x, y float64) { s.fill(rectangle(x, y-1, 26, 12), c) }}
}

// stretch is the legend's entry of a line.
func (s *scene) stretch(words string, l look) entry {
	return entry{words, func(x, y float64) { s.segment(x, y+5, x+26, y+5, l.colour, lineWidth, l.dash...) }}
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
	look      look
	// points draws a mark at each x.
	points bool
}

// rule is a vertical line with its label at the top.
type rule struct {
	x     float64
	label string
	dash  []float64
}

// beside is how many panels stand beside each other.
func (c *charts) beside(width float64) int {
	switch {
	case len(c.panels) < 2 || c.alone:
		return 1
	case width < Wide:
		return 1
	case len(c.panels) > 8:
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

func (c *charts) draw(s *scene, width float64) float64 {
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
func (p *panel) draw(s *scene, x, y, width, plotHeight float64) float64 {
	top := y + 6
	if p.title != "" {
		for _, l := range wrap(p.title, textSize, true, width) {
			top += leading - 3
			s.text(x, top, l, words{bold: true})
			top += 4
		}
	}
	for _, l := range wrap(p.y.title, smallSize, false, width) {
		top += leading - 2
		s.text(x, top, l, words{size: smallSize, colour: &muted})
	}
	if len(p.rules) > 0 {
		top += leading
	}
	top += 10
	bottom := top + plotHeight
	ticks := 0.0
	for _, t := range p.y.ticks {
		ticks = max(ticks, textWidth(t.label, smallSize, false))
	}
	left, right := x+ticks+8, x+width
	if labels := p.labelWidth(); labels > 0 {
		right -= min(labels, width*.4) + 10
	} else if n := len(p.x.ticks); n > 0 {
		right -= max(8, textWidth(p.x.ticks[n-1].label, smallSize, false)/2)
	}
	px := func(v float64) float64 { return left + (right-left)*p.x.of(v) }
	py := func(v float64) float64 { return bottom - plotHeight*p.y.of(v) }

	for _, t := range p.y.ticks {
		s.segment(left, py(t.at), right, py(t.at), grid, hairline)
		s.text(left-6, py(t.at)+4, t.label, words{size: smallSize, anchor: end, colour: &muted})
	}
	if p.under != nil {
		p.under(s, px, py, top, bottom)
	}
	for _, b := range p.bars {
		s.fill(rectangle(px(b.x0)+.5, py(b.y1), max(.5, px(b.x1)-px(b.x0)-1), py(b.y0)-py(b.y1)), b.fill)
	}
	for _, l := range p.lines {
		if l.low != nil {
			s.bandOf(&l, px, py)
		}
	}
	for _, l := range p.lines {
		if l.low != nil {
			for _, edge := range [][]float64{l.low, l.high} {
				s.strokeRuns(l.x, edge, px, py, l.look.colour, 1.2, 1.5, 2)
			}
		}
		s.strokeRuns(l.x, l.y, px, py, l.look.colour, lineWidth, l.look.dash...)
		if l.points {
			for i := range l.x {
				if !math.IsNaN(l.y[i]) {
					s.mark(px(l.x[i]), py(l.y[i]), 3.5, l.look.shape, l.look.colour)
				}
			}
		}
	}
	if p.over != nil {
		p.over(s, px, py, top, bottom)
	}
	taken := math.Inf(-1)
	for _, r := range p.rules {
		s.segment(px(r.x), top-4, px(r.x), bottom, ink, 1.4, r.dash...)
		w := textWidth(r.label, smallSize, false)
		at := max(px(r.x)-w/2, taken+8, left)
		s.text(at, top-8, r.label, words{size: smallSize})
		taken = at + w
	}
	s.segment(left, bottom, right, bottom, muted, hairline)
	for _, t := range p.x.thin(right - left) {
		s.segment(px(t.at), bottom, px(t.at), bottom+4, muted, hairline)
		s.text(px(t.at), bottom+leading, t.label, words{size: smallSize, anchor: middle, colour: &muted})
	}
	if p.aside != "" {
		s.text(right, top+10, p.aside, words{size: smallSize, anchor: end, colour: &muted, halo: true})
	}
	foot := bottom + leading
	for _, l := range wrap(p.x.title, smallSize, false, right-x) {
		if l == "" {
			continue
		}
		foot += leading
		s.text(right, foot, l, words{size: smallSize, anchor: end, colour: &muted})
	}
	p.labels(s, px, py, right, top, bottom, width)
	return foot + 6 - y
}

// labelPitch is the distance of labels below each other.
const labelPitch = 15.0

func (p *panel) labelWidth() float64 {
	w := 0.0
	for _, l := range p.lines {
		w = max(w, textWidth(l.label, smallSize, true))
	}
	return w
}

// labels writes each line's name at its end, pushed apart where they touch.
func (p *panel) labels(s *scene, px, py func(float64) float64, right, top, bottom, width float64) {
	type label struct {
		y, want float64
		lines   []string
		look    look
	}
	var all []label
	for _, l := range p.lines {
		if l.label == "" {
			continue
		}
		for i := len(l.x) - 1; i >= 0; i-- {
			if !math.IsNaN(l.y[i]) {
				y := min(max(py(l.y[i]), top), bottom)
				all = append(all, label{y, y, wrap(l.label, smallSize, true, width*.4), l.look})
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
			s.text(right+6, l.y+4+pitch*float64(k), t, words{size: smallSize, bold: true, colour: &l.look.colour})
		}
	}
}

// bandOf fills between a line's bounds.
func (s *scene) bandOf(l *line, px, py func(float64) float64) {
	for _, run := range runs(l.low, l.high) {
		var p path
		for i := run[0]; i < run[1]; i++ {
			q := point{px(l.x[i]), py(l.low[i])}
			if i == run[0] {
				p.move(q.x, q.y)
			} else {
				p.line(q.x, q.y)
			}
		}
		for i := run[1] - 1; i >= run[0]; i-- {
			p.line(px(l.x[i]), py(l.high[i]))
		}
		p.close()
		s.fill(p, band)
	}
}

// strokeRuns draws a line, broken where it has no value.
func (s *scene) strokeRuns(x, y []float64, px, py func(float64) float64, c color.RGBA, width float64, dash ...float64) {
	for _, run := range runs(y, y) {
		var p path
		for i := run[0]; i < run[1]; i++ {
			if i == run[0] {
				p.move(px(x[i]), py(y[i]))
			} else {
				p.line(px(x[i]), py(y[i]))
			}
		}
		s.stroke(p, c, width, dash...)
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
