package dialect

import (
	"bytes"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"
)

// wide are the encodings of more than a byte a character: by their mark, and
// where there is none by which bytes of plain text are 0.
var wide = []struct {
	mark string
	zero []bool // of the bytes of a character
	is   encoding.Encoding
}{
	{"\xff\xfe\x00\x00", []bool{false, true, true, true}, utf32.UTF32(utf32.LittleEndian, utf32.IgnoreBOM)},
	{"\x00\x00\xfe\xff", []bool{true, true, true, false}, utf32.UTF32(utf32.BigEndian, utf32.IgnoreBOM)},
	{"\xff\xfe", []bool{false, true}, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)},
	{"\xfe\xff", []bool{true, false}, unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)},
}

// leastWide: fewer bytes with zeros among them are no text that its code can be
// told from.
const leastWide = 8

// WideEncoding tells the encoding of a text from its start, and how long its
// mark is; nil where a character is a byte, or UTF-8.
func WideEncoding(start []byte) (is encoding.Encoding, mark int) {
	for _, w := range wide {
		if bytes.HasPrefix(start, []byte(w.mark)) {
			return w.is, len(w.mark)
		}
	}
	if bytes.IndexByte(start[:min(len(start), 8)], 0) < 0 {
		return nil, 0
	}
	for _, w := range wide {
		if n := min(len(start), 256) / len(w.zero) * len(w.zero); n >= leastWide && hasZeros(start[:n], w.zero) {
			return w.is, 0
		}
	}
	return nil, 0
}

// hasZeros tells whether just those bytes of each character are 0.
func hasZeros(text []byte, zero []bool) bool {
	for i, c := range text {
		if (c == 0) != zero[i%len(zero)] {
			return false
		}
	}
	return true
}

// LineEnds makes line ends of lone carriage returns.
type LineEnds struct {
	io.Reader
	after bool // the byte before was a carriage return
}

func (r *LineEnds) Read(p []byte) (int, error) {
	n, err := r.Reader.Read(p)
	out := p[:0]
	for _, c := range p[:n] {
		if c != '\n' || !r.after {
			if r.after = c == '\r'; r.after {
				c = '\n'
			}
			out = append(out, c)
		} else {
			r.after = false
		}
	}
	return len(out), err
}

// UTF8Lines are lines of text as UTF-8: one that is not is taken as
// Windows-1252, the eight-bit code of most spreadsheets and readers. note is
// told which.
func UTF8Lines(text []byte, note func(line int)) []byte {
	out := make([]byte, 0, len(text)+len(text)/8)
	n := 0
	for line := range bytes.Lines(text) {
		if utf8.Valid(line) {
			out = append(out, line...)
		} else {
			note(n)
			for _, c := range line {
				out = utf8.AppendRune(out, charmap.Windows1252.DecodeByte(c))
			}
		}
		n++
	}
	return out
}
