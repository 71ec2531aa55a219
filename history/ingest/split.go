package ingest

import "bytes"

// span is where a field stands in a text.
type span struct{ from, to int32 }

// fields are the fields of a line. Each stands in text between two marks: the
// end of the line before, and the end of each field.
type fields struct {
	text  []byte
	marks []uint32
}

// beforeAll marks the end of the line before the first of a text.
const beforeAll = ^uint32(0)

func (f fields) count() int { return len(f.marks) - 1 }

// at is field i, from 0.
func (f fields) at(i int) []byte { return f.text[f.marks[i]+1 : f.marks[i+1]] }

// splitter takes lines apart that may hold quotes (RFC 4180, on one line). It
// keeps the text of the fields, without their quotes, and its memory.
type splitter struct {
	delim byte
	text  []byte
	marks []uint32
}

// any takes a line apart. ok is false where a quote stands inside an unquoted
// field, text follows a closing quote, or a quote is left open. The fields are
// valid until the next call.
func (s *splitter) any(line []byte) (f fields, ok bool) {
	s.text = s.text[:0]
	return s.add(line)
}

// add is any, but the text is put behind that of the lines before; the marks
// alone are valid until the next call.
func (s *splitter) add(line []byte) (f fields, ok bool) {
	s.marks = append(s.marks[:0], uint32(len(s.text))-1)
	for i := 0; i <= len(line); i++ {
		if i, ok = s.field(line, i); !ok {
			return f, false
		}
		s.marks = append(s.marks, uint32(len(s.text)))
		s.text = append(s.text, s.delim)
	}
	return fields{s.text, s.marks}, true
}

// field adds the field that starts at i and returns where it ends.
func (s *splitter) field(line []byte, i int) (end int, ok bool) {
	open := i
	for open < len(line) && line[open] == ' ' && s.delim != ' ' {
		open++
	}
	if open == len(line) || line[open] != '"' {
		end = bytes.IndexByte(line[i:], s.delim)
		if end < 0 {
			end = len(line)
		} else {
			end += i
		}
		if bytes.IndexByte(line[i:end], '"') >= 0 {
			return 0, false
		}
		s.text = append(s.text, line[i:end]...)
		return end, true
	}
	for i = open + 1; ; i++ {
		q := bytes.IndexByte(line[i:], '"')
		if q < 0 {
			return 0, false
		}
		s.text = append(s.text, line[i:i+q]...)
		if i += q + 1; i == len(line) || line[i] != '"' {
			break
		}
		s.text = append(s.text, '"')
	}
	for i < len(line) && line[i] == ' ' && s.delim != ' ' {
		i++
	}
	return i, i == len(line) || line[i] == s.delim
}

// cutLine parts the first line, without its end, from the rest.
func cutLine(data []byte) (line, rest []byte) {
	line, rest, _ = bytes.Cut(data, []byte("\n"))
	return bytes.TrimSuffix(line, []byte("\r")), rest
}

// trimmed is a field without blanks at its ends.
func trimmed(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	return b
}

func isBlank(line []byte) bool { return len(trimmed(line)) == 0 }
