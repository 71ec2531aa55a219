package figure

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

// textWidth is the width of a line of text.
func textWidth(t string, size float64, bold bool) float64 {
	f := face(size, bold)
	return float64(f.Width(t))
}

// wrap breaks a text into lines no wider than limit, where its words allow.
func wrap(t string, size float64, bold bool, limit float64) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(t) {
		longer := w
		if line != "" {
			longer = line + " " + w
		}
		if line != "" && textWidth(longer, size, bold) > limit {
			out = append(out, line)
			longer = w
		}
		line = longer
	}
	return append(out, line)
}

// shorten keeps the first lines of a text; an ellipsis tells that more follows.
func shorten(lines []string, most int) []string {
	if len(lines) <= most {
		return lines
	}
	lines = lines[:most:most]
	lines[most-1] += " …"
	return lines
}

// origin is where the text of an operation starts, whatever its anchor.
func (o *op) origin() point {
	wide := textWidth(o.text, o.size, o.bold)
	return point{o.at.x - wide*[...]float64{0, 0.5, 1}[o.anchor], o.at.y}
}

// rim is the paper behind a text with a halo, where letters have none.
func (o *op) rim() path {
	p := o.origin()
	return rectangle(p.x-2, p.y-.8*o.size, textWidth(o.text, o.size, o.bold)+4, o.size)
}
