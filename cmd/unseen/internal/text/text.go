// Package text writes a page for a person: no wider than the terminal, or than
// 100 columns in a pipe, numbers aligned, footnote marks on the numbers in doubt.
// No word is ever broken: one that is longer than a line stands on a line by
// itself.
package text

import (
	"io"
	"regexp"
	"strings"

	"github.com/rivo/uniseg"

	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/view"
)

const gap = "  "

// Write writes the page, as wide as [Width] says of w. Control characters and the
// like, which names from files may hold, are shown as their numbers.
func Write(w io.Writer, p view.Page) error {
	_, err := io.WriteString(w, page(p, Width(w)))
	return err
}

// sheet is a page being laid out.
type sheet struct {
	strings.Builder
	wide int
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

// numbered is the beginning of an entry of a numbered list.
var numbered = regexp.MustCompile(`^\d+\. `)

// paragraph wraps words and gives back the lines; the first begins with lead,
// further ones are indented as far.
func (b *sheet) paragraph(lead, s string) []string {
	if number := numbered.FindString(s); lead == "" && number != "" {
		lead, s = number, s[len(number):]
	}
	n := width(lead)
	lines := wrap(s, min(b.wide, readable)-n)
	for _, line := range lines {
		b.WriteString(lead + line + "\n")
		lead = strings.Repeat(" ", n)
	}
	return lines
}

// together are blanks that are no place to break: between a number and its % sign,
// before a dot or an ellipsis, after ±, in "p = 0.16" and "(default: 1)".
var together = strings.NewReplacer(" %", "\u00a0%", " = ", "\u00a0=\u00a0", " < ", "\u00a0<\u00a0", " ± ", " ±\u00a0", " · ", "\u00a0· ", " …", "\u00a0…", "(default: ", "(default:\u00a0")

// wrap breaks s at blanks so that lines are at most limit wide where the words
// allow.
func wrap(s string, limit int) []string {
	var lines []string
	for _, part := range strings.Split(s, "\n") {
		line, wide := "", 0
		for _, word := range strings.Split(together.Replace(part), " ") {
			n := width(word)
			if line != "" && wide+1+n > limit {
				lines = append(lines, line)
				line, wide = "", 0
			}
			if line != "" {
				line, wide = line+" ", wide+1
			}
			line, wide = line+word, wide+n
		}
		lines = append(lines, line)
	}
	for i := range lines {
		lines[i] = strings.ReplaceAll(lines[i], "\u00a0", " ")
	}
	return lines
}

func width(s string) int { return uniseg.StringWidth(s) }

func widest(lines []string) int {
	n := 0
	for _, s := range lines {
		n = max(n, width(s))
	}
	return n
}

func pad(s string, n int, right bool) string {
	blanks := strings.Repeat(" ", max(0, n-width(s)))
	if right {
		return blanks + s
	}
	return s + blanks
}
