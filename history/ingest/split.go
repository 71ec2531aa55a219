package ingest

import "bytes"

// span is where a field stands in a line.
type span struct{ from, to int32 }

// splitter takes lines apart. It keeps its memory from line to line.
type splitter struct {
	delim   byte
	spans   []span
	scratch []byte // fields whose quotes were taken out; its user empties it
}

// split finds the fields of a line without quotes and returns how many there
// are; the first cap(s.spans) of them are in s.spans.
func (s *splitter) split(line []byte) int {
	n, from := 0, 0
	spans := s.spans[:cap(s.spans)]
	for {
		to := bytes.IndexByte(line[from:], s.delim)
		if to < 0 {
			to = len(line)
		} else {
			to += from
		}
		if n < len(spans) {
			spans[n] = span{int32(from), int32(to)}
		}
		n++
		if to == len(line) {
			return n
		}
		from = to + 1
	}
}

// splitQuoted is split for a line with quotes (RFC 4180, on one line). The
// spans are of the returned text. ok is false where a quote stands inside an
// unquoted field, text follows a closing quote, or a quote is left open.
func (s *splitter) splitQuoted(line []byte) (text []byte, n int, ok bool) {
	spans := s.spans[:cap(s.spans)]
	out := s.scratch
	defer func() { s.scratch = out }()
	i := 0
	for {
		for i < len(line) && line[i] == ' ' && s.delim != ' ' {
			i++
		}
		from := len(out)
		if i < len(line) && line[i] == '"' {
			i++
			for {
				q := bytes.IndexByte(line[i:], '"')
				if q < 0 {
					return out, n, false
				}
				out = append(out, line[i:i+q]...)
				i += q + 1
				if i == len(line) || line[i] != '"' {
					break
				}
				out = append(out, '"')
				i++
			}
			for i < len(line) && line[i] == ' ' && s.delim != ' ' {
				i++
			}
			if i < len(line) && line[i] != s.delim {
				return out, n, false
			}
		} else {
			to := bytes.IndexByte(line[i:], s.delim)
			if to < 0 {
				to = len(line) - i
			}
			if bytes.IndexByte(line[i:i+to], '"') >= 0 {
				return out, n, false
			}
			out = append(out, line[i:i+to]...)
			i += to
		}
		if n < len(spans) {
			spans[n] = span{int32(from), int32(len(out))}
		}
		n++
		if i == len(line) {
			return out, n, true
		}
		i++
	}
}

// any is split or splitQuoted, as the line needs; the text is valid until the
// next call.
func (s *splitter) any(line []byte) (text []byte, n int, ok bool) {
	s.scratch = s.scratch[:0]
	if bytes.IndexByte(line, '"') >= 0 {
		return s.splitQuoted(line)
	}
	return line, s.split(line), true
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
