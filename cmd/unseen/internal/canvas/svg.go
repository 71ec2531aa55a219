package canvas

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"io"
	"math"
	"strconv"

	"example.org/unseen/cmd/unseen/internal/harmless"
)

// SVG writes the scene, for those who do not see it with a title and a description,
// whose marks in a page begin with id. Texts stay texts, anchored where they belong, so that
// they can be searched, copied, and set in whatever font a system has.
func (s *Scene) SVG(w io.Writer, id, title, description string) error {
	var b bytes.Buffer
	width, height := number(s.Width), number(s.Height)
	idTitle, idDesc := id+"-title", id+"-desc"
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="%s" aria-describedby="%s" width="%s" height="%s" viewBox="0 0 %s %s" font-family="%s">`+"\n",
		idTitle, idDesc, width, height, width, height, html.EscapeString(fontFamily))
	fmt.Fprintf(&b, "<title id=%q>%s</title>\n<desc id=%q>%s</desc>\n", idTitle, html.EscapeString(title), idDesc, html.EscapeString(description))
	fmt.Fprintf(&b, `<rect width="%s" height="%s" %s/>`+"\n", width, height, filled(Paper))
	for _, o := range s.Ops {
		switch o.Kind {
		case OpMark:
			o.Datum.open(&b)
		case OpEnd:
			b.WriteString("</g>")
		case OpFill:
			fmt.Fprintf(&b, `<path d="%s" %s/>`, o.Path.data(), filled(o.Colour))
		case OpStroke:
			fmt.Fprintf(&b, `<path d="%s" fill="none" stroke="%s" class="%s" stroke-width="%s"`, o.Path.data(), hex(o.Colour), class('s', o.Colour), number(o.width))
			if len(o.Dash) > 0 {
				b.WriteString(` stroke-dasharray="`)
				for i, d := range o.Dash {
					if i > 0 {
						b.WriteByte(' ')
					}
					b.WriteString(number(d))
				}
				b.WriteByte('"')
			}
			b.WriteString("/>")
		case OpText:
			looks := filled(o.Colour)
			if o.halo {
				looks = fmt.Sprintf(`fill="%s" class="%s %s"`, hex(o.Colour), class('f', o.Colour), class('s', Paper))
			}
			fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s" %s`, number(o.At.X), number(o.At.Y), number(o.Size), looks)
			if o.Anchor != start {
				fmt.Fprintf(&b, ` text-anchor="%s"`, [...]string{"start", "middle", "end"}[o.Anchor])
			}
			if o.Bold {
				b.WriteString(` font-weight="700"`)
			}
			if o.halo {
				fmt.Fprintf(&b, ` stroke="%s" stroke-width="4" stroke-linejoin="round" paint-order="stroke"`, hex(Paper))
			}
			fmt.Fprintf(&b, ">%s</text>", html.EscapeString(o.Text))
		}
		b.WriteByte('\n')
	}
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, harmless.Escape(b.String()))
	return err
}

func filled(c color.RGBA) string { return fmt.Sprintf(`fill="%s" class="%s"`, hex(c), class('f', c)) }

// open begins a group that carries the number its marks show, in full.
func (d *Datum) open(b *bytes.Buffer) {
	fmt.Fprintf(b, `<g data-of="%s"`, html.EscapeString(d.Key))
	if d.Status != "" {
		fmt.Fprintf(b, ` data-status="%s"`, d.Status)
	}
	for _, x := range []struct {
		name  string
		value float64
	}{{"value", d.Value}, {"low", d.Low}, {"high", d.High}} {
		if !math.IsNaN(x.value) {
			fmt.Fprintf(b, ` data-%s="%s"`, x.name, strconv.FormatFloat(x.value, 'g', -1, 64))
		}
	}
	b.WriteByte('>')
}

func (p Path) data() string {
	var b []byte
	pair := func(q Point) {
		b = append(b, number(q.X)...)
		b = append(b, ' ')
		b = append(b, number(q.Y)...)
	}
	for _, s := range p {
		b = append(b, s.Kind)
		switch s.Kind {
		case 'C':
			pair(s.a)
			b = append(b, ' ')
			pair(s.b)
			b = append(b, ' ')
			pair(s.To)
		case 'M', 'L':
			pair(s.To)
		}
	}
	return string(b)
}

// number has two decimals at most: a hundredth of a pixel.
func number(x float64) string {
	x = math.Round(x*100) / 100
	if x == 0 {
		x = 0 // no minus sign
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}
