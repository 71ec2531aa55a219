package propose

import (
	"fmt"
	"strings"
	"unicode"
)

// text is the study file as it is written, line by line.
type text struct{ strings.Builder }

func (b *text) line(format string, args ...any) {
	// In quotes control characters are escaped; comments cannot hold any.
	b.WriteString(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, fmt.Sprintf(format, args...)))
	b.WriteByte('\n')
}

// quoted writes a TOML string.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == unicode.ReplacementChar || unicode.IsControl(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func quotedList(list []string) string {
	var out []string
	for _, s := range list {
		out = append(out, quoted(s))
	}
	return strings.Join(out, ", ")
}
