// Package dialect makes lines and fields of bytes: encodings, line ends,
// delimiters, quotes.
package dialect

import "bytes"

// Fields are the fields of a line. Each stands in Text between two marks: the
// end of the line before, and the end of each field.
type Fields struct {
	Text  []byte
	Marks []uint32
}

// beforeAll marks the end of the line before the first of a text.
const beforeAll = ^uint32(0)

// Count is the number of fields.
func (f Fields) Count() int { return len(f.Marks) - 1 }

// At is field i, from 0.
func (f Fields) At(i int) []byte { return f.Text[f.Marks[i]+1 : f.Marks[i+1]] }

// Splitter takes lines apart that may hold quotes: the one quoting rule, that of
// RFC 4180, with blanks allowed around quotes. It keeps the text of the fields,
// without their quotes, and its memory.
type Splitter struct {
	Delimiter byte
	Text      []byte
	marks     []uint32
}

// quoting is what is wrong with the quotes of a line.
type quoting uint8

const (
	Sound quoting = iota
	// QuoteInside: a quote stands inside a field that does not begin with one.
	QuoteInside
	// TextBehind: text follows a closing quote.
	TextBehind
	// leftOpen: a quote is not closed on the line.
	leftOpen
)

// Line takes a line apart; ok is false where its quotes are not sound. The
// fields are valid until the next call.
func (s *Splitter) Line(line []byte) (f Fields, ok bool) {
	s.Text = s.Text[:0]
	return s.Add(line)
}

// Add is Line, but the text is put behind that of the lines before; the marks
// alone are valid until the next call.
func (s *Splitter) Add(line []byte) (f Fields, ok bool) {
	f, q, _ := s.Take(line)
	return f, q == Sound
}

// Take is Add. Where the quotes are not sound, at is the byte that shows it, and
// the last mark stands before the field at fault.
func (s *Splitter) Take(line []byte) (f Fields, q quoting, at int) {
	s.marks = append(s.marks[:0], uint32(len(s.Text))-1)
	for i := 0; i <= len(line); i++ {
		if i, q = s.field(line, i); q != Sound {
			return Fields{s.Text, s.marks}, q, i
		}
		s.marks = append(s.marks, uint32(len(s.Text)))
		s.Text = append(s.Text, s.Delimiter)
	}
	return Fields{s.Text, s.marks}, Sound, 0
}

// field adds the field that starts at i and returns where it ends, or where its
// quotes are not sound.
func (s *Splitter) field(line []byte, i int) (end int, q quoting) {
	open := s.blanks(line, i)
	if bytes.HasPrefix(line[open:], []byte(`="`)) {
		open++ // a formula of a text alone, by which a spreadsheet keeps all digits
	}
	if open == len(line) || line[open] != '"' {
		end = bytes.IndexByte(line[i:], s.Delimiter)
		if end < 0 {
			end = len(line)
		} else {
			end += i
		}
		s.Text = append(s.Text, line[i:end]...)
		if k := bytes.IndexByte(line[i:end], '"'); k >= 0 {
			return i + k, QuoteInside
		}
		return end, Sound
	}
	for i = open + 1; ; i++ {
		k := bytes.IndexByte(line[i:], '"')
		if k < 0 {
			return open, leftOpen
		}
		s.Text = append(s.Text, line[i:i+k]...)
		if i += k + 1; i == len(line) || line[i] != '"' {
			break
		}
		s.Text = append(s.Text, '"')
	}
	if i = s.blanks(line, i); i < len(line) && line[i] != s.Delimiter {
		return i, TextBehind
	}
	return i, Sound
}

// blanks is where the blanks that begin at i end.
func (s *Splitter) blanks(line []byte, i int) int {
	for i < len(line) && line[i] == ' ' && s.Delimiter != ' ' {
		i++
	}
	return i
}

// CutLine parts the first line, without its end, from the rest.
func CutLine(data []byte) (line, rest []byte) {
	line, rest, _ = bytes.Cut(data, []byte("\n"))
	return bytes.TrimSuffix(line, []byte("\r")), rest
}

// IsBlank tells whether a line holds nothing.
func IsBlank(line []byte) bool { return len(bytes.TrimSpace(line)) == 0 }
