package canvas

import (
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
)

// Text is set in Liberation Sans in PNG and PDF. SVG names fonts that systems
// have; those named first have the same widths.
const fontFamily = `Arial, "Liberation Sans", Helvetica, "Helvetica Neue", Roboto, sans-serif`

var typefaces = sync.OnceValue(func() [2]font.Face {
	load := func(ttf []byte, variant font.Variant) font.Face {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic(err) // the fonts are compiled in
		}
		return font.Face{Font: font.Font{Typeface: "Liberation", Variant: variant}, Face: f}
	}
	return [2]font.Face{
		load(liberationsansregular.TTF, "Sans"),
		// A variant, not a weight: vgpdf registers fonts without their weight
		// and then looks for them with it.
		load(liberationsansbold.TTF, "SansBold"),
	}
})

func face(size float64, bold bool) font.Face {
	f := typefaces()[0]
	if bold {
		f = typefaces()[1]
	}
	f.Font.Size = font.Length(size)
	return f
}

// TextWidth is the width of a line of text.
func TextWidth(t string, size float64, bold bool) float64 {
	f := face(size, bold)
	return float64(f.Width(t))
}

// Wrap breaks a text into lines no wider than limit, where its words allow.
func Wrap(t string, size float64, bold bool, limit float64) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(t) {
		longer := w
		if line != "" {
			longer = line + " " + w
		}
		if line != "" && TextWidth(longer, size, bold) > limit {
			out = append(out, line)
			longer = w
		}
		line = longer
	}
	return append(out, line)
}

// Shorten keeps the first lines of a text; an ellipsis tells that more follows.
func Shorten(lines []string, most int) []string {
	if len(lines) <= most {
		return lines
	}
	lines = lines[:most:most]
	lines[most-1] += " …"
	return lines
}

// Origin is where the text of an operation starts, whatever its anchor.
func (o *Op) Origin() Point {
	wide := TextWidth(o.Text, o.Size, o.Bold)
	return Point{o.At.X - wide*[...]float64{0, 0.5, 1}[o.Anchor], o.At.Y}
}

// rim is the paper behind a text with a halo, where letters have none.
func (o *Op) rim() Path {
	p := o.Origin()
	return Rectangle(p.X-2, p.Y-.8*o.Size, TextWidth(o.Text, o.Size, o.Bold)+4, o.Size)
}
