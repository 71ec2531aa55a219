package canvas

import (
	"image/color"
	"io"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"

	"example.org/unseen/cmd/unseen/internal/harmless"
)

// pdfScale makes a CSS pixel, 1/96 of an inch, of points, 1/72.
const pdfScale = 72.0 / 96

// PDF writes with fpdf, not through gonum's canvas, which mixes up two fonts
// in one document and knows only 256 letters.
func (s *Scene) PDF(w io.Writer, title, description string) error {
	d := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: s.Width * pdfScale, Ht: s.Height * pdfScale}})
	d.SetTitle(harmless.Escape(title), true)
	d.SetSubject(harmless.Escape(description), true)
	d.SetLang("en")
	d.SetCatalogSort(true)
	d.SetCreationDate(time.Unix(0, 0).UTC())
	d.SetModificationDate(time.Unix(0, 0).UTC())
	d.SetMargins(0, 0, 0)
	d.SetAutoPageBreak(false, 0)
	const family = "Liberation Sans"
	d.AddUTF8FontFromBytes(family, "", liberationsansregular.TTF)
	d.AddUTF8FontFromBytes(family, "B", liberationsansbold.TTF)
	d.AddPage()
	at := func(p Point) (float64, float64) { return p.X * pdfScale, p.Y * pdfScale }
	trace := func(p Path) {
		for _, st := range p {
			x, y := at(st.To)
			switch st.Kind {
			case 'M':
				d.MoveTo(x, y)
			case 'L':
				d.LineTo(x, y)
			case 'C':
				ax, ay := at(st.a)
				bx, by := at(st.b)
				d.CurveBezierCubicTo(ax, ay, bx, by, x, y)
			case 'Z':
				d.ClosePath()
			}
		}
	}
	fill := func(p Path, c color.RGBA) {
		d.SetFillColor(int(c.R), int(c.G), int(c.B))
		trace(p)
		d.DrawPath("F")
	}
	for _, o := range s.Ops {
		switch o.Kind {
		case OpFill:
			fill(o.Path, o.Colour)
		case OpStroke:
			d.SetDrawColor(int(o.Colour.R), int(o.Colour.G), int(o.Colour.B))
			d.SetLineWidth(o.width * pdfScale)
			dash := make([]float64, len(o.Dash))
			for i, x := range o.Dash {
				dash[i] = x * pdfScale
			}
			d.SetDashPattern(dash, 0)
			trace(o.Path)
			d.DrawPath("D")
		case OpText:
			if o.halo {
				fill(o.rim(), Paper)
			}
			style := ""
			if o.Bold {
				style = "B"
			}
			d.SetFont(family, style, o.Size*pdfScale)
			d.SetTextColor(int(o.Colour.R), int(o.Colour.G), int(o.Colour.B))
			x, y := at(o.Origin())
			d.Text(x, y, o.Text)
		}
	}
	return d.Output(w)
}
