// Package canvas is what figures are drawn on: a scene of paths and texts, its
// colours, and the writers of SVG, PNG and PDF.
package canvas

import (
	"image/color"
	"math"

	"example.org/unseen/cmd/unseen/internal/harmless"
)

// Scene is a figure laid out: what to draw, in order. Coordinates are CSS
// pixels from the top left corner.
type Scene struct {
	Width, Height float64
	Ops           []Op
}

// Op is one thing to draw: a filled path, a stroked path, or text.
type Op struct {
	Kind   OpKind
	Path   Path
	Colour color.RGBA
	width  float64   // of a stroke
	Dash   []float64 // of a stroke

	Text   string
	At     Point
	Size   float64
	Bold   bool
	Anchor Anchor
	// Halo draws a rim of paper round the letters.
	halo bool

	Datum Datum // of a mark
}

type OpKind uint8

const (
	OpFill OpKind = iota
	OpStroke
	OpText
	OpMark // what follows, up to OpEnd, shows one number
	OpEnd
)

// Datum is the number that a mark shows, in the unit of the answers' JSON, and
// the key by which it is found there.
type Datum struct {
	Key              string
	Status           string // what the number is worth; "" of one that was no estimate
	Value, Low, High float64
}

// Show draws a mark and notes the number it shows.
func (s *Scene) Show(d Datum, draw func()) {
	s.Ops = append(s.Ops, Op{Kind: OpMark, Datum: d})
	draw()
	s.Ops = append(s.Ops, Op{Kind: OpEnd})
}

// Anchor says which end of a text stands at its point.
type Anchor uint8

const (
	start Anchor = iota
	Middle
	End
)

type Point struct{ X, Y float64 }

// At is the point (x, y).
func At(x, y float64) Point { return Point{x, y} }

// Path is made of steps: to a point ('M', 'L'), along a cubic curve ('C'), or
// closed ('Z').
type Path []step

type step struct {
	Kind byte
	To   Point
	a, b Point // control points of a curve
}

func (p *Path) Move(x, y float64) { *p = append(*p, step{Kind: 'M', To: Point{x, y}}) }
func (p *Path) Line(x, y float64) { *p = append(*p, step{Kind: 'L', To: Point{x, y}}) }
func (p *Path) Close()            { *p = append(*p, step{Kind: 'Z'}) }
func (p *Path) Curve(a, b, to Point) {
	*p = append(*p, step{Kind: 'C', a: a, b: b, To: to})
}

func Lines(points ...Point) Path {
	var p Path
	for i, q := range points {
		if i == 0 {
			p.Move(q.X, q.Y)
		} else {
			p.Line(q.X, q.Y)
		}
	}
	return p
}

func Polygon(points ...Point) Path {
	p := Lines(points...)
	p.Close()
	return p
}

func Rectangle(x, y, w, h float64) Path {
	return Polygon(Point{x, y}, Point{x + w, y}, Point{x + w, y + h}, Point{x, y + h})
}

// circle is made of four cubic curves, off the true one by at most 0.03 %.
func circle(x, y, r float64) Path {
	k := r * 4 / 3 * (math.Sqrt2 - 1)
	var p Path
	p.Move(x+r, y)
	p.Curve(Point{x + r, y + k}, Point{x + k, y + r}, Point{x, y + r})
	p.Curve(Point{x - k, y + r}, Point{x - r, y + k}, Point{x - r, y})
	p.Curve(Point{x - r, y - k}, Point{x - k, y - r}, Point{x, y - r})
	p.Curve(Point{x + k, y - r}, Point{x + r, y - k}, Point{x + r, y})
	p.Close()
	return p
}

func (s *Scene) Fill(p Path, c color.RGBA) {
	s.Ops = append(s.Ops, Op{Kind: OpFill, Path: p, Colour: c})
}

func (s *Scene) Stroke(p Path, c color.RGBA, width float64, dash ...float64) {
	s.Ops = append(s.Ops, Op{Kind: OpStroke, Path: p, Colour: c, width: width, Dash: dash})
}

// Segment draws a straight line.
func (s *Scene) Segment(x0, y0, x1, y1 float64, c color.RGBA, width float64, dash ...float64) {
	s.Stroke(Lines(Point{x0, y0}, Point{x1, y1}), c, width, dash...)
}

// TextStyle are a text's looks.
type TextStyle struct {
	Size   float64 // 0 means textSize
	Bold   bool
	Anchor Anchor
	Colour *color.RGBA // nil means ink
	Halo   bool
}

// Text writes one line of text, its baseline at y.
func (s *Scene) Text(x, y float64, t string, w TextStyle) {
	if t == "" {
		return
	}
	o := Op{Kind: OpText, Text: harmless.Escape(t), At: Point{x, y}, Size: w.Size, Bold: w.Bold, Anchor: w.Anchor, Colour: Ink, halo: w.Halo}
	if o.Size == 0 {
		o.Size = TextSize
	}
	if w.Colour != nil {
		o.Colour = *w.Colour
	}
	s.Ops = append(s.Ops, o)
}

const (
	Disc Shape = iota
	Square
	triangle
	diamond
	wedge
	tall
	Cross
)

// outline is the edge of a shape; nil of a cross, which has none.
func (k Shape) outline(x, y, r float64) Path {
	switch k {
	case Disc:
		return circle(x, y, r)
	case Square:
		return Rectangle(x-.9*r, y-.9*r, 1.8*r, 1.8*r)
	case triangle:
		return Polygon(Point{x, y - 1.2*r}, Point{x + 1.1*r, y + .8*r}, Point{x - 1.1*r, y + .8*r})
	case diamond:
		return Polygon(Point{x, y - 1.3*r}, Point{x + 1.3*r, y}, Point{x, y + 1.3*r}, Point{x - 1.3*r, y})
	case wedge:
		return Polygon(Point{x, y + 1.2*r}, Point{x + 1.1*r, y - .8*r}, Point{x - 1.1*r, y - .8*r})
	case tall:
		return Rectangle(x-.6*r, y-1.2*r, 1.2*r, 2.4*r)
	}
	return nil
}

// Mark draws a point of a shape.
func (s *Scene) Mark(x, y, r float64, k Shape, c color.RGBA) {
	if p := k.outline(x, y, r); p != nil {
		s.Fill(p, c)
		return
	}
	s.Segment(x-r, y-r, x+r, y+r, c, 1.6)
	s.Segment(x-r, y+r, x+r, y-r, c, 1.6)
}

// Hollow draws the outline of a shape.
func (s *Scene) Hollow(x, y, r float64, k Shape, c color.RGBA) {
	s.Fill(k.outline(x, y, r), Paper)
	s.Stroke(k.outline(x, y, r), c, 1.6)
}

// Series are the looks of lines and points that must be told apart: each has
// its own lightness, dash and shape. Shapes are filled: an outline alone says
// what an estimate is worth.
var Series = []Look{
	{RGB(0x0f4a61), nil, Disc},
	{RGB(0xa8480f), []float64{7, 3}, Square},
	{RGB(0x35748f), []float64{2, 3}, triangle},
	{RGB(0x14181c), []float64{9, 3, 2, 3}, diamond},
	{RGB(0x7f6d27), []float64{4, 2}, wedge},
	{RGB(0x6b4a8c), []float64{12, 4}, tall},
}

// LookOf is the look of the i-th of several.
func LookOf(i int) Look { return Series[i%len(Series)] }
