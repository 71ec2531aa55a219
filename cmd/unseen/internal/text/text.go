// Package text writes a page for a person at a terminal: at most 100 columns
// wide, numbers aligned, footnote marks on the numbers in doubt.
package text

import (
	"bufio"
	"io"
	"strings"

	"github.com/rivo/uniseg"

	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Width is the widest line written, where the words themselves allow it.
const Width = 100

const gap = "  "

// Write writes the page. Control characters and the like, which names from files
// may hold, are shown as their numbers.
func Write(w io.Writer, p view.Page) error {
	p = p.Map(func(s string) string { return strings.ReplaceAll(harmless.Escape(s), "\t", " ") })
	var page strings.Builder
	b := bufio.NewWriter(&page)
	if p.Title != "" {
		b.WriteString(p.Title + "\n")
	}
	if p.Stamp != "" {
		paragraph(b, "", p.Stamp)
	}
	first := p.Title == "" && p.Stamp == ""
	for _, s := range p.Sections {
		if !first {
			b.WriteString("\n")
		}
		first = false
		section(b, s)
	}
	b.Flush()
	_, err := io.WriteString(w, page.String())
	return err
}

func section(b *bufio.Writer, s view.Section) {
	if s.Heading != "" {
		b.WriteString(s.Heading + "\n" + strings.Repeat("─", width(s.Heading)) + "\n")
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
		paragraph(b, "", p)
	}
	for _, t := range s.Tables {
		if t.CSVOnly {
			continue
		}
		apart()
		table(b, t)
	}
	for _, x := range s.Warnings {
		apart()
		head := x.ID
		if x.About != "" {
			head += " (" + x.About + ")"
		}
		paragraph(b, "! ", head+": "+x.Message)
	}
	if len(s.Notes) > 0 {
		apart()
	}
	for _, n := range s.Notes {
		paragraph(b, "· ", n)
	}
}

// paragraph wraps words; the first line begins with lead, further ones are
// indented as far.
func paragraph(b *bufio.Writer, lead, s string) {
	n := width(lead)
	for _, line := range wrap(s, Width-n) {
		b.WriteString(lead + line + "\n")
		lead = strings.Repeat(" ", n)
	}
}

// wrap breaks s at blanks so that lines are at most limit wide where the words
// allow. A blank between a number and its % sign is no place to break.
func wrap(s string, limit int) []string {
	var lines []string
	for _, part := range strings.Split(s, "\n") {
		line, wide := "", 0
		for _, word := range strings.Split(strings.ReplaceAll(part, " %", "\u00a0%"), " ") {
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

func pad(s string, n int, right bool) string {
	blanks := strings.Repeat(" ", max(0, n-width(s)))
	if right {
		return blanks + s
	}
	return s + blanks
}
