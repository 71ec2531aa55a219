package figure

import (
	"image/color"
	"image/png"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// pngScale is the number of pixels for each CSS pixel: 384 to the inch.
const pngScale = 4

func (s *scene) png(w io.Writer) error {
	// 72 dots to the inch make a point of the canvas one CSS pixel.
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(s.width), vg.Length(s.height)), vgimg.UseDPI(72*pngScale))
	s.onto(c)
	return png.Encode(w, c.Image())
}

// onto draws the scene on a canvas, whose origin is at the bottom left.
func (s *scene) onto(c vg.Canvas) {
	at := func(p point) vg.Point { return vg.Point{X: vg.Length(p.x), Y: vg.Length(s.height - p.y)} }
	trace := func(p path) vg.Path {
		var out vg.Path
		for _, st := range p {
			switch st.kind {
			case 'M':
				out.Move(at(st.to))
			case 'L':
				out.Line(at(st.to))
			case 'C':
				out.CubeTo(at(st.a), at(st.b), at(st.to))
			case 'Z':
				out.Close()
			}
		}
		return out
	}
	fill := func(p path, k color.RGBA) {
		c.SetColor(k)
		c.Fill(trace(p))
	}
	fill(rectangle(0, 0, s.width, s.height), paper)
	for _, o := range s.ops {
		switch o.kind {
		case opFill:
			fill(o.path, o.colour)
		case opStroke:
			c.SetColor(o.colour)
			c.SetLineWidth(vg.Length(o.width))
			dash := make([]vg.Length, len(o.dash))
			for i, d := range o.dash {
				dash[i] = vg.Length(d)
			}
			c.SetLineDash(dash, 0)
			c.Stroke(trace(o.path))
		case opText:
			if o.halo {
				fill(o.rim(), paper)
			}
			c.SetColor(o.colour)
			c.FillString(face(o.size, o.bold), at(o.origin()), o.text)
		}
	}
}
