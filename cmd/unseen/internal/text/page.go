package text

import (
	"io"
	"strings"

	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Write writes the page, as wide as [Width] says of w. Control characters and the
// like, which names from files may hold, are shown as their numbers.
func Write(w io.Writer, p view.Page) error {
	_, err := io.WriteString(w, page(p, Width(w)))
	return err
}

func page(p view.Page, wide int) string {
	p = p.Map(func(s string) string { return strings.ReplaceAll(harmless.Escape(s), "\t", " ") })
	b := &sheet{wide: wide}
	if p.Title != "" {
		b.paragraph("", p.Title)
	}
	if p.Stamp != "" {
		b.paragraph("", p.Stamp)
	}
	for _, s := range p.Sections {
		if !s.Shown() {
			continue
		}
		if b.Len() > 0 {
			b.WriteString("\n")
		}
		b.section(s)
	}
	return b.String()
}

func (b *sheet) section(s view.Section) {
	if s.Heading != "" {
		lines := b.paragraph("", s.Heading)
		b.WriteString(strings.Repeat("─", widest(lines)) + "\n")
	}
	some := false
	apart := func() {
		if some {
			b.WriteString("\n")
		}
		some = true
	}
	for _, p := range s.Paragraphs {
		apart()
		b.paragraph("", p)
	}
	for _, t := range s.Tables {
		if t.CSVOnly {
			continue
		}
		apart()
		b.table(t)
	}
	for _, x := range s.Warnings {
		apart()
		b.paragraph("! ", x.Message+" ["+x.ID+"]")
	}
	if len(s.Notes) > 0 {
		apart()
	}
	for _, n := range s.Notes {
		b.paragraph("· ", n)
	}
}
