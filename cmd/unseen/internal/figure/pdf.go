package figure

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

// pdf writes with fpdf, not through gonum's canvas, which mixes up two fonts
// in one document and knows only 256 letters.
func (s *scene) pdf(w io.Writer, f *Figure) error {
	d := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: s.width * pdfScale, Ht: s.height * pdfScale}})
	d.SetTitle(harmless.Escape(f.Title), true)
	d.SetSubject(harmless.Escape(f.Description), true)
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
	at := func(p point) (float64, float64) { return p.x * pdfScale, p.y * pdfScale }
	trace := func(p path) {
		for _, st := range p {
			x, y := at(st.to)
			switch st.kind {
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
	fill := func(p path, c color.RGBA) {
		d.SetFillColor(int(c.R), int(c.G), int(c.B))
		trace(p)
		d.DrawPath("F")
	}
	for _, o := range s.ops {
		switch o.kind {
		case opFill:
			fill(o.path, o.colour)
		case opStroke:
			d.SetDrawColor(int(o.colour.R), int(o.colour.G), int(o.colour.B))
			d.SetLineWidth(o.width * pdfScale)
			dash := make([]float64, len(o.dash))
			for i, x := range o.dash {
				dash[i] = x * pdfScale
			}
			d.SetDashPattern(dash, 0)
			trace(o.path)
			d.DrawPath("D")
		case opText:
			if o.halo {
				fill(o.rim(), paper)
			}
			style := ""
			if o.bold {
				style = "B"
			}
			d.SetFont(family, style, o.size*pdfScale)
			d.SetTextColor(int(o.colour.R), int(o.colour.G), int(o.colour.B))
			x, y := at(o.origin())
			d.Text(x, y, o.text)
		}
	}
	return d.Output(w)
}
