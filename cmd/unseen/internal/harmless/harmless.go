// Package harmless makes texts of strangers so where people look at it: what
// would move a terminal's cursor, or turn the order of letters round, is shown
// as its number.
package harmless

import (
	"fmt"
	"strings"
	"unicode"
)

// Escape writes control characters, but for line ends and tabs, and those that
// settle the direction of writing as \u and four digits in hex. JSON means the
// same by it, within the strings in which alone such characters can stand.
func Escape(s string) string {
	if strings.IndexFunc(s, hidden) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if hidden(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// hidden tells the characters that are not seen themselves and change how others
// are: controls, and the marks, embeddings, overrides and isolates of Unicode
// Standard Annex 9, section 2.
func hidden(r rune) bool {
	return unicode.IsControl(r) && r != '\n' && r != '\t' || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029'
}
