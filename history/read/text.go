package read

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// textSource takes delimited text apart: RFC 4180 with any of four
// delimiters, either line end, and blanks allowed around quotes.
type textSource struct {
	table  *Table
	r      *bufio.Reader
	delim  byte
	line   int // of the line read last
	long   []byte
	fields []string
	latin  bool
}

func openText(t *Table, r io.Reader) (*textSource, error) {
	s := &textSource{table: t, r: bufio.NewReaderSize(r, 1<<16)}
	start, err := s.r.Peek(1 << 16)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, t.refuse(1, "%s", readError(err))
	}
	switch {
	case bytes.HasPrefix(start, []byte("\xff\xfe")), bytes.HasPrefix(start, []byte("\xfe\xff")):
		return nil, t.refuse(1, "the file is UTF-16 text; save it as CSV in UTF-8")
	case bytes.HasPrefix(start, []byte("\xef\xbb\xbf")):
		start = start[3:]
		if _, err := s.r.Discard(3); err != nil {
			return nil, t.refuse(1, "%s", readError(err))
		}
	}
	if bytes.IndexByte(start, '\n') < 0 && bytes.IndexByte(start, '\r') >= 0 {
		return nil, t.refuse(1, "lines end in a lone carriage return; save the file with ordinary line ends")
	}
	s.delim = delimiter(start, errors.Is(err, io.EOF))
	t.Delimiter = rune(s.delim)
	return s, nil
}

// delimiter settles what parts the fields from the header and up to 20
// records: a character that parts each of them into as many fields as the
// header; else the one that parts the header into most. A semicolon, bar or tab
// in every record is no accident, while commas may be decimal, so these go first.
func delimiter(start []byte, whole bool) byte {
	const candidates = "\t;|,"
	var header, n [len(candidates)]int
	var steady [len(candidates)]bool
	records, quoted, filled := 0, false, false
	end := func() {
		if filled {
			for i := range candidates {
				if records == 0 {
					header[i], steady[i] = n[i], n[i] > 0
				} else if n[i] != header[i] {
					steady[i] = false
				}
			}
			records++
		}
		n, filled = [len(candidates)]int{}, false
	}
	for _, c := range start {
		switch {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '\n':
			end()
		default:
			if i := strings.IndexByte(candidates, c); i >= 0 {
				n[i]++
			}
			if c != ' ' && c != '\r' {
				filled = true
			}
		}
		if records > 20 {
			break
		}
	}
	if whole || records == 0 {
		end()
	}
	best := byte(',')
	most := 0
	for i := range candidates {
		if steady[i] {
			return candidates[i]
		}
		if header[i] > most {
			best, most = candidates[i], header[i]
		}
	}
	return best
}

// readLine reads a line without its end; one that is too long or no text is a
// *recordError. It is valid until the next call.
func (s *textSource) readLine() ([]byte, error) {
	s.line++
	s.long = s.long[:0]
	tooLong := false
	for {
		part, err := s.r.ReadSlice('\n')
		if len(s.long)+len(part) > MaxRecord+2 {
			tooLong = true
			s.long = s.long[:0]
		}
		if errors.Is(err, bufio.ErrBufferFull) {
			if !tooLong {
				s.long = append(s.long, part...)
			}
			continue
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, err
		}
		if tooLong || len(s.long)+len(bytes.TrimRight(part, "\r\n")) > MaxRecord {
			return nil, &recordError{line: s.line, message: "the line is longer than 1 MiB"}
		}
		if len(s.long) > 0 {
			s.long = append(s.long, part...)
			part = s.long
		}
		if err != nil && len(part) == 0 {
			return nil, io.EOF
		}
		if i := bytes.IndexByte(part, 0); i >= 0 {
			return nil, &recordError{line: s.line, column: i + 1, message: "the line holds a NUL byte, so this is no text; get a sound copy"}
		}
		part = bytes.TrimSuffix(part, []byte("\n"))
		return bytes.TrimSuffix(part, []byte("\r")), nil
	}
}

// text makes a string of a line; one that is not UTF-8 is read as Latin-1.
func (s *textSource) text(line []byte) string {
	if utf8.Valid(line) {
		return string(line)
	}
	if !s.latin {
		s.latin = true
		s.table.notes = append(s.table.notes,
			fmt.Sprintf("%s:%d: not UTF-8; such lines are read as Latin-1", s.table.File, s.line))
	}
	var b strings.Builder
	for _, c := range line {
		b.WriteRune(rune(c))
	}
	return b.String()
}

func (s *textSource) next() ([]string, int, error) {
	line, err := s.readLine()
	start := s.line
	if err != nil {
		return nil, start, err
	}
	text := s.text(line)
	s.fields = s.fields[:0]
	if strings.IndexByte(text, '"') >= 0 {
		return s.quoted(text, start)
	}
	s.fields = appendFields(s.fields, text, s.delim)
	return s.fields, start, nil
}

// appendFields appends the fields of a record without quotes.
func appendFields(fields []string, text string, delim byte) []string {
	for {
		i := strings.IndexByte(text, delim)
		if i < 0 {
			return append(fields, text)
		}
		fields, text = append(fields, text[:i]), text[i+1:]
	}
}

// quoted takes a record with quotes apart, reading on where a quoted field
// holds a line end.
func (s *textSource) quoted(text string, start int) ([]string, int, error) {
	i := 0
	for {
		open := i
		for open < len(text) && text[open] == ' ' {
			open++
		}
		if open == len(text) || text[open] != '"' {
			end := strings.IndexByte(text[i:], s.delim)
			if end < 0 {
				end = len(text) - i
			}
			field := text[i : i+end]
			if q := strings.IndexByte(field, '"'); q >= 0 {
				return nil, start, &recordError{line: s.line, column: i + q + 1,
					message: fmt.Sprintf("a quote inside the field %q; put the whole field in quotes and double those within", field)}
			}
			s.fields = append(s.fields, field)
			i += end
		} else {
			field, after, grown, err := s.quotedField(text, open+1)
			if err != nil {
				return nil, start, err
			}
			text, i = grown, after
			for i < len(text) && text[i] == ' ' {
				i++
			}
			if i < len(text) && text[i] != s.delim {
				return nil, start, &recordError{line: s.line, column: i + 1,
					message: fmt.Sprintf("text after the closing quote of the field %q; double the quotes within a quoted field", field)}
			}
			s.fields = append(s.fields, field)
		}
		if i == len(text) {
			return s.fields, start, nil
		}
		i++
	}
}

// quotedField reads from behind the opening quote. It returns the field, the
// index behind the closing quote, and the text, grown by the lines read on.
func (s *textSource) quotedField(text string, i int) (string, int, string, error) {
	opened := s.line
	var b strings.Builder
	for {
		q := strings.IndexByte(text[i:], '"')
		if q >= 0 {
			b.WriteString(text[i : i+q])
			i += q + 1
			if i < len(text) && text[i] == '"' {
				b.WriteByte('"')
				i++
				continue
			}
			return b.String(), i, text, nil
		}
		b.WriteString(text[i:])
		line, err := s.readLine()
		if err != nil || b.Len()+len(line) > MaxRecord {
			if err != nil && !errors.Is(err, io.EOF) {
				return "", 0, "", err
			}
			return "", 0, "", &recordError{line: opened, fatal: true, message: "the quote opened here is never closed"}
		}
		b.WriteByte('\n')
		text, i = s.text(line), 0
	}
}
