package figure

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

// svg writes the scene. Texts stay texts, anchored where they belong, so that
// they can be searched, copied, and set in whatever font a system has.
func (s *scene) svg(w io.Writer, f *Figure, suffix string) error {
	var b bytes.Buffer
	width, height := number(s.width), number(s.height)
	title, desc := f.ID+suffix+"-title", f.ID+suffix+"-desc"
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="%s" aria-describedby="%s" width="%s" height="%s" viewBox="0 0 %s %s" font-family="%s">`+"\n",
		title, desc, width, height, width, height, html.EscapeString(fontFamily))
	fmt.Fprintf(&b, "<title id=%q>%s</title>\n<desc id=%q>%s</desc>\n", title, html.EscapeString(f.Title), desc, html.EscapeString(f.Description))
	fmt.Fprintf(&b, `<rect width="%s" height="%s" %s/>`+"\n", width, height, filled(paper))
	for _, o := range s.ops {
		switch o.kind {
		case opMark:
			o.datum.open(&b)
		case opEnd:
			b.WriteString("</g>")
		case opFill:
			fmt.Fprintf(&b, `<path d="%s" %s/>`, o.path.data(), filled(o.colour))
		case opStroke:
			fmt.Fprintf(&b, `<path d="%s" fill="none" stroke="%s" class="%s" stroke-width="%s"`, o.path.data(), hex(o.colour), class('s', o.colour), number(o.width))
			if len(o.dash) > 0 {
				b.WriteString(` stroke-dasharray="`)
				for i, d := range o.dash {
					if i > 0 {
						b.WriteByte(' ')
					}
					b.WriteString(number(d))
				}
				b.WriteByte('"')
			}
			b.WriteString("/>")
		case opText:
			looks := filled(o.colour)
			if o.halo {
				looks = fmt.Sprintf(`fill="%s" class="%s %s"`, hex(o.colour), class('f', o.colour), class('s', paper))
			}
			fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s" %s`, number(o.at.x), number(o.at.y), number(o.size), looks)
			if o.anchor != start {
				fmt.Fprintf(&b, ` text-anchor="%s"`, [...]string{"start", "middle", "end"}[o.anchor])
			}
			if o.bold {
				b.WriteString(` font-weight="700"`)
			}
			if o.halo {
				fmt.Fprintf(&b, ` stroke="%s" stroke-width="4" stroke-linejoin="round" paint-order="stroke"`, hex(paper))
			}
			fmt.Fprintf(&b, ">%s</text>", html.EscapeString(o.text))
		}
		b.WriteByte('\n')
	}
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, harmless.Escape(b.String()))
	return err
}

func filled(c color.RGBA) string { return fmt.Sprintf(`fill="%s" class="%s"`, hex(c), class('f', c)) }

// open begins a group that carries the number its marks show, in full.
func (d *datum) open(b *bytes.Buffer) {
	fmt.Fprintf(b, `<g data-of="%s"`, html.EscapeString(d.key))
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

func (p path) data() string {
	var b []byte
	pair := func(q point) {
		b = append(b, number(q.x)...)
		b = append(b, ' ')
		b = append(b, number(q.y)...)
	}
	for _, s := range p {
		b = append(b, s.kind)
		switch s.kind {
		case 'C':
			pair(s.a)
			b = append(b, ' ')
			pair(s.b)
			b = append(b, ' ')
			pair(s.to)
		case 'M', 'L':
			pair(s.to)
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

func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
