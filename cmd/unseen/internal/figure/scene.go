package figure

import (
	"image/color"
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/harmless"
)

// scene is a figure laid out: what to draw, in order. Coordinates are CSS
// pixels from the top left corner.
type scene struct {
	width, height float64
	ops           []op
}

// op is one thing to draw: a filled path, a stroked path, or text.
type op struct {
	kind   opKind
	path   path
	colour color.RGBA
	width  float64   // of a stroke
	dash   []float64 // of a stroke

	text   string
	at     point
	size   float64
	bold   bool
	anchor anchor
	// halo draws a rim of paper round the letters.
	halo bool

	datum datum // of a mark
}

type opKind uint8

const (
	opFill opKind = iota
	opStroke
	opText
	opMark // what follows, up to opEnd, shows one number
	opEnd
)

// datum is the number that a mark shows, in the unit of the answers' JSON, and
// the key by which it is found there.
type datum struct {
	key string
	cjs.Estimate
}

// shows draws a mark and notes the number it shows.
func (s *scene) shows(key string, e cjs.Estimate, draw func()) {
	s.ops = append(s.ops, op{kind: opMark, datum: datum{key, e}})
	draw()
	s.ops = append(s.ops, op{kind: opEnd})
}

// anchor says which end of a text stands at its point.
type anchor uint8

const (
	start anchor = iota
	middle
	end
)

type point struct{ x, y float64 }

// path is made of steps: to a point ('M', 'L'), along a cubic curve ('C'), or
// closed ('Z').
type path []step

type step struct {
	kind byte
	to   point
	a, b point // control points of a curve
}

func (p *path) move(x, y float64) { *p = append(*p, step{kind: 'M', to: point{x, y}}) }
func (p *path) line(x, y float64) { *p = append(*p, step{kind: 'L', to: point{x, y}}) }
func (p *path) close()            { *p = append(*p, step{kind: 'Z'}) }
func (p *path) curve(a, b, to point) {
	*p = append(*p, step{kind: 'C', a: a, b: b, to: to})
}

func lines(points ...point) path {
	var p path
	for i, q := range points {
		if i == 0 {
			p.move(q.x, q.y)
		} else {
			p.line(q.x, q.y)
		}
	}
	return p
}

func polygon(points ...point) path {
	p := lines(points...)
	p.close()
	return p
}

func rectangle(x, y, w, h float64) path {
	return polygon(point{x, y}, point{x + w, y}, point{x + w, y + h}, point{x, y + h})
}

// circle is made of four cubic curves, off the true one by at most 0.03 %.
func circle(x, y, r float64) path {
	k := r * 4 / 3 * (math.Sqrt2 - 1)
	var p path
	p.move(x+r, y)
	p.curve(point{x + r, y + k}, point{x + k, y + r}, point{x, y + r})
	p.curve(point{x - k, y + r}, point{x - r, y + k}, point{x - r, y})
	p.curve(point{x - r, y - k}, point{x - k, y - r}, point{x, y - r})
	p.curve(point{x + k, y - r}, point{x + r, y - k}, point{x + r, y})
	p.close()
	return p
}

func (s *scene) fill(p path, c color.RGBA) {
	s.ops = append(s.ops, op{kind: opFill, path: p, colour: c})
}

func (s *scene) stroke(p path, c color.RGBA, width float64, dash ...float64) {
	s.ops = append(s.ops, op{kind: opStroke, path: p, colour: c, width: width, dash: dash})
}

// segment draws a straight line.
func (s *scene) segment(x0, y0, x1, y1 float64, c color.RGBA, width float64, dash ...float64) {
	s.stroke(lines(point{x0, y0}, point{x1, y1}), c, width, dash...)
}

// words are a text's looks.
type words struct {
	size   float64 // 0 means textSize
	bold   bool
	anchor anchor
	colour *color.RGBA // nil means ink
	halo   bool
}

// text writes one line of text, its baseline at y.
func (s *scene) text(x, y float64, t string, w words) {
	if t == "" {
		return
	}
	o := op{kind: opText, text: harmless.Escape(t), at: point{x, y}, size: w.size, bold: w.bold, anchor: w.anchor, colour: ink, halo: w.halo}
	if o.size == 0 {
		o.size = textSize
	}
	if w.colour != nil {
		o.colour = *w.colour
	}
	s.ops = append(s.ops, o)
}

// shape is the form of a point.
type shape uint8

const (
	disc shape = iota
	square
	triangle
	diamond
	wedge
	tall
	cross
)

// outline is the edge of a shape; nil of a cross, which has none.
func (k shape) outline(x, y, r float64) path {
	switch k {
	case disc:
		return circle(x, y, r)
	case square:
		return rectangle(x-.9*r, y-.9*r, 1.8*r, 1.8*r)
	case triangle:
		return polygon(point{x, y - 1.2*r}, point{x + 1.1*r, y + .8*r}, point{x - 1.1*r, y + .8*r})
	case diamond:
		return polygon(point{x, y - 1.3*r}, point{x + 1.3*r, y}, point{x, y + 1.3*r}, point{x - 1.3*r, y})
	case wedge:
		return polygon(point{x, y + 1.2*r}, point{x + 1.1*r, y - .8*r}, point{x - 1.1*r, y - .8*r})
	case tall:
		return rectangle(x-.6*r, y-1.2*r, 1.2*r, 2.4*r)
	}
	return nil
}

// mark draws a point of a shape.
func (s *scene) mark(x, y, r float64, k shape, c color.RGBA) {
	if p := k.outline(x, y, r); p != nil {
		s.fill(p, c)
		return
	}
	s.segment(x-r, y-r, x+r, y+r, c, 1.6)
	s.segment(x-r, y+r, x+r, y-r, c, 1.6)
}

// hollow draws the outline of a shape.
func (s *scene) hollow(x, y, r float64, k shape, c color.RGBA) {
	s.fill(k.outline(x, y, r), paper)
	s.stroke(k.outline(x, y, r), c, 1.6)
}
