// Package text writes a page for a person: no wider than the terminal, or than
// 100 columns in a pipe, numbers aligned, footnote marks on the numbers in doubt.
// No word is ever broken: one that is longer than a line stands on a line by
// itself.
package text

import (
	"regexp"
	"strings"

	"github.com/rivo/uniseg"
)

const gap = "  "

// sheet is a page being laid out.
type sheet struct {
	strings.Builder
	wide int
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
