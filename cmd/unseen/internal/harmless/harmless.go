// Package harmless makes texts of strangers so where people look at it: what
// would move a terminal's cursor, or turn the order of letters round, is shown
// as its number.
package harmless

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Escape writes control characters, but for line ends and tabs, and those that
// settle the direction of writing as \u and four digits in hex. JSON means the
// same by it, within the strings in which alone such characters can stand. A byte
// that is of no character, which JSON has none of, is \x and two digits: some
// terminals take it for a control character.
func Escape(s string) string {
	if strings.IndexFunc(s, hidden) < 0 && utf8.ValidString(s) {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		if r == utf8.RuneError && !strings.HasPrefix(s[i:], string(r)) {
			fmt.Fprintf(&b, `\x%02x`, s[i])
		} else if hidden(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// JSON gives a writer that escapes the JSON written through it on its way to w.
// A character that is not all there yet waits for its rest.
func JSON(w io.Writer) io.Writer { return &escaper{to: w} }

// Document is what writes a document of JSON, with its texts escaped.
func Document(write func(io.Writer) error) func(io.Writer) error {
	return func(w io.Writer) error { return write(JSON(w)) }
}

type escaper struct {
	to   io.Writer
	rest []byte
}

func (e *escaper) Write(p []byte) (int, error) {
	text := append(e.rest, p...)
	end := len(text)
	for i := end - 1; i >= max(0, end-utf8.UTFMax); i-- {
		if utf8.RuneStart(text[i]) {
			if !utf8.FullRune(text[i:]) {
				end = i
			}
			break
		}
	}
	if _, err := io.WriteString(e.to, Escape(string(text[:end]))); err != nil {
		return 0, err
	}
	e.rest = append([]byte(nil), text[end:]...)
	return len(p), nil
}

// hidden tells the characters that are not seen themselves and change how others
// are: controls, and the marks, embeddings, overrides and isolates of Unicode
// Standard Annex 9, section 2.
func hidden(r rune) bool {
	return unicode.IsControl(r) && r != '\n' && r != '\t' || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029'
}
