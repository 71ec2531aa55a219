package canvas

import (
	"image/color"
	"image/png"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// PngScale is the number of pixels for each CSS pixel: 384 to the inch.
const PngScale = 4

func (s *Scene) PNG(w io.Writer) error {
	// 72 dots to the inch make a point of the canvas one CSS pixel.
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(s.Width), vg.Length(s.Height)), vgimg.UseDPI(72*PngScale))
	s.onto(c)
	return png.Encode(w, c.Image())
}

// onto draws the scene on a canvas, whose origin is at the bottom left.
func (s *Scene) onto(c vg.Canvas) {
	at := func(p Point) vg.Point { return vg.Point{X: vg.Length(p.X), Y: vg.Length(s.Height - p.Y)} }
	trace := func(p Path) vg.Path {
		var out vg.Path
		for _, st := range p {
			switch st.Kind {
			case 'M':
				out.Move(at(st.To))
			case 'L':
				out.Line(at(st.To))
			case 'C':
				out.CubeTo(at(st.a), at(st.b), at(st.To))
			case 'Z':
				out.Close()
			}
		}
		return out
	}
	fill := func(p Path, k color.RGBA) {
		c.SetColor(k)
		c.Fill(trace(p))
	}
	fill(Rectangle(0, 0, s.Width, s.Height), Paper)
	for _, o := range s.Ops {
		switch o.Kind {
		case OpFill:
			fill(o.Path, o.Colour)
		case OpStroke:
			c.SetColor(o.Colour)
			c.SetLineWidth(vg.Length(o.width))
			dash := make([]vg.Length, len(o.Dash))
			for i, d := range o.Dash {
				dash[i] = vg.Length(d)
			}
			c.SetLineDash(dash, 0)
			c.Stroke(trace(o.Path))
		case OpText:
			if o.halo {
				fill(o.rim(), Paper)
			}
			c.SetColor(o.Colour)
			c.FillString(face(o.Size, o.Bold), at(o.Origin()), o.Text)
		}
	}
}
