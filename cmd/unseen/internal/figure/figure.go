// Package figure draws what a study says. One description of a figure is laid
// out for a width and written as SVG, PNG or PDF. Figures read in grey and to
// the colour-blind: they tell things apart by lightness, shape and dashes, and
// name them where they stand.
package figure

import (
	"io"

	"example.org/unseen/cmd/unseen/internal/view"
)

// Figure describes a figure.
type Figure struct {
	// ID names its files and its place in the page.
	ID string
	// Title says what it shows, Description what is to be seen in it, for
	// those who do not see it.
	Title, Description string
	// Caption is how to read it, besides the title.
	Caption string
	// Table holds the numbers drawn; without columns where tables beside the
	// figure hold them.
	Table view.Table
	body  body
}

// body is one kind of figure.
type body interface {
	// draw lays the figure out in a scene of the given width and returns the
	// height.
	draw(s *scene, width float64) float64
}

// Widths of figures, in CSS pixels: Wide for paper and screens, Narrow for
// phones. The text has the same size in both.
const (
	Wide   = 720
	Narrow = 360
)

// SVG writes the figure. Marks that must be unique in a page end in suffix.
func (f *Figure) SVG(w io.Writer, width float64, suffix string) error {
	return f.lay(width).svg(w, f, suffix)
}

// PNG writes the figure with four pixels for each CSS pixel of the wide form.
func (f *Figure) PNG(w io.Writer) error { return f.lay(Wide).png(w) }

// PDF writes the figure as one page of its size.
func (f *Figure) PDF(w io.Writer) error { return f.lay(Wide).pdf(w, f) }

func (f *Figure) lay(width float64) *scene {
	s := &scene{width: width}
	s.height = f.body.draw(s, width)
	return s
}
