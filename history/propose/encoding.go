package propose

import (
	"bytes"
	"slices"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/htmlindex"
)

// eightBitEncoding guesses how a text is encoded that is not UTF-8; "" where it
// is Windows-1252, as it is read without being told, or cannot be told. Letters
// of Western languages stand among those of ASCII; Cyrillic and Japanese words
// hold none.
func eightBitEncoding(raw []byte) string {
	for _, name := range []string{"shift_jis", "windows-1251"} {
		if likely(raw, name) {
			return name
		}
	}
	if dosLetters(raw) {
		return "ibm850"
	}
	// Letters of Polish are signs in Windows-1252. A word counts once: one that
	// every record repeats tells no more than a heading.
	high, eastern := 0, 0
	met := map[string]bool{}
	for _, word := range bytes.FieldsFunc(raw, func(r rune) bool { return r < utf8.RuneSelf && !isLetter(byte(r)) }) {
		if met[string(word)] {
			continue
		}
		met[string(word)] = true
		for i, c := range word {
			if c >= utf8.RuneSelf {
				high++
				if bytes.IndexByte([]byte("\xb3\xb9\xbf\x9c\x9f\x8c\x8f\xa3\xa5\xaf\xea"), c) >= 0 && (isLetter(byteAt(word, i-1)) || isLetter(byteAt(word, i+1))) {
					eastern++
				}
			}
		}
	}
	if eastern*3 > high {
		return "windows-1250"
	}
	return ""
}

// dosLetters tells a text of DOS: what would be signs in the codes of Windows stands
// between letters, as no sign does. The two codes of Western languages, 437 and
// 850, have these letters at the same places.
func dosLetters(raw []byte) bool {
	high, dos := 0, 0
	for i, c := range raw {
		if c < utf8.RuneSelf || !isLetter(byteAt(raw, i-1)) || !isLetter(byteAt(raw, i+1)) {
			continue
		}
		if high++; bytes.IndexByte([]byte("\x81\x82\x84\x85\x86\x87\x88\x89\x8b\x91\x93\x94\x95\x96\x97\x98\x9b\xa0\xa1\xa2\xa3\xa4"), c) >= 0 {
			dos++
		}
	}
	return dos > 0 && dos*2 >= high
}

func byteAt(b []byte, i int) byte {
	if i < 0 || i >= len(b) {
		return ' '
	}
	return b[i]
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

// likely tells whether nearly all signs beyond ASCII are letters of the scripts
// that an encoding is for.
func likely(raw []byte, name string) bool {
	scripts := map[string][]*unicode.RangeTable{
		"shift_jis":    {unicode.Han, unicode.Hiragana, unicode.Katakana},
		"windows-1251": {unicode.Cyrillic},
	}[name]
	is, err := htmlindex.Get(name)
	if err != nil {
		return false
	}
	text, err := is.NewDecoder().Bytes(raw)
	if err != nil {
		return false
	}
	good, all, mixed := 0, 0, 0
	last := ' '
	for _, r := range string(text) {
		if (r >= utf8.RuneSelf && last < utf8.RuneSelf && isLetter(byte(last))) || (last >= utf8.RuneSelf && r < utf8.RuneSelf && isLetter(byte(r))) {
			mixed++
		}
		last = r
		if r < utf8.RuneSelf || unicode.IsPunct(r) || unicode.IsSymbol(r) && r != utf8.RuneError {
			continue
		}
		half := r >= 0xFF61 && r <= 0xFF9F // half-width, as Cyrillic letters would read
		if all++; !half && slices.ContainsFunc(scripts, func(t *unicode.RangeTable) bool { return unicode.Is(t, r) }) {
			good++
		}
	}
	return all > 0 && good*10 >= all*9 && mixed*4 < all
}
