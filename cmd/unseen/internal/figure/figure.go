// Package figure draws what a study says. One description of a figure is laid
// out for a width and written as SVG, PNG or PDF. Figures read in grey and to
// the colour-blind: they tell things apart by lightness, shape and dashes, and
// name them where they stand.
package figure

import (
	"fmt"
	"io"
	"strings"

	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Figure describes a figure.
type Figure struct {
	// ID names its files and its place in the page.
	ID string
	// Title says what it shows, Description what is to be seen in it, for
	// those who do not see it.
	Title, Description string
	// Caption says what is found and how to read it, besides the title.
	Caption string
	// Source names the study, the model and the number of fish behind it.
	Source string
	// Table holds the numbers drawn; without columns where tables beside the
	// figure hold them.
	Table view.Table
	body  body
	// say has a text speak of a study's animals and occasions; nil: of fish.
	say func(string) string
}

// Spoken are figures of which every text is as say has it; as they are where say is
// nil.
func Spoken(figures []*Figure, say func(string) string) []*Figure {
	if say == nil {
		return figures
	}
	out := make([]*Figure, len(figures))
	for i, f := range figures {
		g := *f
		g.say = say
		g.Title, g.Caption, g.Description = say(f.Title), say(f.Caption), say(f.Description)
		g.Source = say(f.Source)
		g.Table = f.Table.Map(say)
		out[i] = &g
	}
	return out
}

// body is one kind of figure.
type body interface {
	// draw lays the figure out in a scene of the given width and returns the
	// height.
	draw(s *drawing, width float64) float64
}

// Pages are the figure in parts that fit on a sheet of paper each; the whole
// where it fits. The first keeps the figure's ID, and its table.
func (f *Figure) Pages() []*Figure {
	p, ok := f.body.(interface{ pages() []body })
	if !ok {
		return []*Figure{f}
	}
	bodies := p.pages()
	out := make([]*Figure, len(bodies))
	for i, b := range bodies {
		one := *f
		one.body = b
		if len(bodies) > 1 {
			one.Title = fmt.Sprintf("%s (%d of %d)", f.Title, i+1, len(bodies))
		}
		if i > 0 {
			one.ID = fmt.Sprintf("%s-%d", f.ID, i+1)
			one.Table = view.Table{}
		}
		out[i] = &one
	}
	return out
}

// Widths of figures, in CSS pixels: Wide for paper and screens, Narrow for
// phones. The text has the same size in both.
const (
	Wide   = 720
	Narrow = 360
)

// SVG writes the figure. Marks that must be unique in a page end in suffix.
func (f *Figure) SVG(w io.Writer, width float64, suffix string) error {
	return f.lay(width).SVG(w, f.ID+suffix, f.Title, f.Description)
}

// PNG writes the figure with four pixels for each CSS pixel of the wide form.
func (f *Figure) PNG(w io.Writer) error { return f.lay(Wide).PNG(w) }

// PDF writes the figure as one page of its size.
func (f *Figure) PDF(w io.Writer) error { return f.lay(Wide).PDF(w, f.Title, f.Description) }

// drawing is a scene, with the marks that figures share.
type drawing struct {
	canvas.Scene
	say func(string) string
}

// Text writes one line of text, its baseline at y.
func (s *drawing) Text(x, y float64, t string, w canvas.TextStyle) {
	if s.say != nil {
		t = s.say(t)
	}
	s.Scene.Text(x, y, t, w)
}

func (f *Figure) lay(width float64) *canvas.Scene {
	s := drawing{say: f.say}
	s.Width = width
	s.Height = f.body.draw(&s, width)
	return &s.Scene
}

// slug is a name as part of a file name.
func slug(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		default:
			if n := b.Len(); n > 0 && b.String()[n-1] != '-' {
				b.WriteByte('-')
			}
		}
	}
	return strings.Trim(b.String(), "-")
}
