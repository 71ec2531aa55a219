package read

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"example.org/unseen/history"
)

const (
	// leastParted and mostParted are between which sizes, in bytes, a table is
	// read in parts: the text of a parted table is in memory as a whole.
	leastParted = 1 << 20
	mostParted  = 1 << 30
	// parts is how many parts there are, whatever the machine.
	parts = 8
)

// Likely is about how many records there are to come, 0 where that is not known:
// for the first of several parts, in the whole table.
func (t *Table) Likely() int { return t.likely }

// Parts opens a large table of plain text as several tables of records that
// follow one another, which can be read at the same time; any other table as
// one. Where there are several, [Whole] must be asked when all are read.
func Parts(path string) ([]*Table, error) {
	text := plainText(path)
	if text == nil {
		t, err := Open(path)
		if err != nil {
			return nil, err
		}
		return []*Table{t}, nil
	}
	head, err := New(path, bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	sum := make(chan string, 1)
	go func() {
		s := sha256.Sum256(text)
		sum <- hex.EncodeToString(s[:])
	}()
	line, from := 1, 0
	for ; line <= head.line; line++ {
		from += bytes.IndexByte(text[from:], '\n') + 1
	}
	var out []*Table
	for i := range parts {
		to := len(text)
		if i < parts-1 {
			to = from + (len(text)-from)/(parts-i)
			if n := bytes.IndexByte(text[to:], '\n'); n >= 0 {
				to += n + 1
			} else {
				to = len(text)
			}
		}
		out = append(out, &Table{
			File: path, Header: head.Header, Delimiter: head.Delimiter, notes: head.notes,
			faults: history.Faults{Keep: MaxFaults}, line: head.line,
			source: &plainSource{text: text[from:to], delim: byte(head.Delimiter), line: line}, sumOfAll: sum,
		})
		lines := bytes.Count(text[from:to], []byte("\n"))
		out[i].likely = lines + 1
		line += lines
		from = to
	}
	out[0].likely = line
	return out, nil
}

// plainText is the text of a table whose every line end ends a record; nil
// where it is not one, is small or very large, or cannot be read.
func plainText(path string) []byte {
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() || info.Size() < leastParted || info.Size() > mostParted {
		return nil
	}
	text, err := os.ReadFile(path)
	if err != nil || len(text) < leastParted || bytes.IndexByte(text, '"') >= 0 || bytes.IndexByte(text, 0) >= 0 ||
		bytes.HasPrefix(text, []byte("PK\x03\x04")) || bytes.HasPrefix(text, []byte("\xef\xbb\xbf")) || !utf8.Valid(text) {
		return nil
	}
	return text
}

// Whole gives the table of which parts were read, all to their ends. ok is
// false where the parts alone do not tell what must be said of it, as for a
// fault: then it is to be opened, and read, as one.
func Whole(parts []*Table) (t *Table, ok bool) {
	t = parts[0]
	for _, p := range parts {
		if p.Err() != nil || p.decimal != t.decimal && p.decimal != 0 {
			return nil, false
		}
	}
	if t.sumOfAll != nil {
		t.sha256 = <-t.sumOfAll
	}
	return t, true
}

// plainSource takes text without quotes apart.
type plainSource struct {
	text   []byte
	some   string // whole lines of the text, those to come first
	delim  byte
	line   int // of the line to come
	fields []string
}

// someText is about how much text is made a string at once.
const someText = 64 << 10

func (s *plainSource) next() ([]string, int, error) {
	if len(s.some) == 0 {
		if len(s.text) == 0 {
			return nil, s.line, io.EOF
		}
		n := min(someText, len(s.text))
		if i := bytes.LastIndexByte(s.text[:n], '\n'); i >= 0 {
			n = i + 1
		} else if i := bytes.IndexByte(s.text[n:], '\n'); i >= 0 {
			n += i + 1
		} else {
			n = len(s.text)
		}
		s.some, s.text = string(s.text[:n]), s.text[n:]
	}
	line, rest, _ := strings.Cut(s.some, "\n")
	s.some = rest
	line = strings.TrimSuffix(line, "\r")
	start := s.line
	s.line++
	if len(line) > MaxRecord {
		return nil, start, &recordError{line: start, message: "the line is longer than 1 MiB"}
	}
	s.fields = s.fields[:0]
	for {
		i := strings.IndexByte(line, s.delim)
		if i < 0 {
			s.fields = append(s.fields, line)
			return s.fields, start, nil
		}
		s.fields = append(s.fields, line[:i])
		line = line[i+1:]
	}
}
