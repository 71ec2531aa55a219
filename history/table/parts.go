package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"os"
	"strings"
	"sync"
	"unicode/utf8"

	"example.org/unseen/history"
)

const (
	// leastParted is the size in bytes from which a table is read in parts.
	leastParted = 2 << 20
	// partSize is about the size of a part.
	partSize = 512 << 10
)

// Parts reads a large table of plain text in parts, which can be taken apart at
// the same time. It is safe for concurrent use.
type Parts struct {
	mu    sync.Mutex
	file  *os.File
	head  *Table
	sum   hash.Hash
	rest  []byte // what was read behind the last part
	line  int    // of the first line of rest
	n     int    // parts given
	part  int    // the size of a part
	size  int64
	ended bool
	// odd: the parts do not tell what must be said of the table.
	odd     bool
	decimal byte
}

// OpenParts opens the table at path, to be closed after use; nil where it is not to be read in parts,
// but by [Open]: it is small, compressed or a workbook, or holds quotes.
func OpenParts(path string) *Parts { return openParts(path, leastParted, partSize) }

func openParts(path string, least int64, part int) *Parts {
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() || info.Size() < least {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	p := &Parts{file: f, sum: sha256.New(), line: 1, part: part, size: info.Size()}
	if p.more() != nil || !plain(p.rest) || !p.header(path) {
		f.Close()
		return nil
	}
	return p
}

// header reads the header from the start of the text.
func (p *Parts) header(path string) bool {
	for _, magic := range []string{"PK\x03\x04", "\xef\xbb\xbf"} {
		if bytes.HasPrefix(p.rest, []byte(magic)) {
			return false
		}
	}
	var err error
	if p.head, err = New(path, bytes.NewReader(p.lines())); err != nil {
		return false
	}
	for ; p.line <= p.head.line; p.line++ {
		_, p.rest, _ = bytes.Cut(p.rest, []byte("\n"))
	}
	return true
}

// plain tells whether every line end of a text ends a record.
func plain(text []byte) bool {
	return bytes.IndexByte(text, '"') < 0 && bytes.IndexByte(text, 0) < 0 && utf8.Valid(text)
}

// more reads on in the file, up to the size of a part.
func (p *Parts) more() error {
	text := make([]byte, len(p.rest), max(p.part, 2*len(p.rest)))
	copy(text, p.rest)
	n, err := io.ReadFull(p.file, text[len(text):cap(text)])
	p.rest = text[:len(text)+n]
	p.sum.Write(p.rest[len(text):])
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		p.ended, err = true, nil
	}
	return err
}

// Head is the table with its header alone.
func (p *Parts) Head() *Table { return p.head }

// Start is a table of the first records, which the parts will give too.
func (p *Parts) Start() *Table { return p.table(p.lines(), p.line) }

func (p *Parts) table(text []byte, line int) *Table {
	h := p.head
	return &Table{
		File: h.File, Header: h.Header, Delimiter: h.Delimiter, line: line, faults: history.Faults{Keep: MaxFaults},
		source: &plainSource{text: text, delim: byte(h.Delimiter), line: line}, isPart: true,
	}
}

// Likely is about how many records the table has.
func (p *Parts) Likely() int {
	n := bytes.Count(p.rest, []byte("\n"))
	return int(1.05 * float64(n) * float64(p.size) / float64(len(p.rest)+1))
}

// Next gives the next part and its number from 0; nil after the last one, or
// where the table must be read as one after all. When it is read to its end,
// [Parts.Took] must be told.
func (p *Parts) Next() (t *Table, number int) {
	p.mu.Lock()
	if p.odd || p.ended && len(p.rest) == 0 {
		p.mu.Unlock()
		return nil, 0
	}
	text, line, number := p.take()
	p.mu.Unlock()
	if text == nil || !plain(text) {
		p.refuse()
		return nil, 0
	}
	return p.table(text, line), number
}

// take cuts a part from the text; nil where it cannot.
func (p *Parts) take() (text []byte, line, number int) {
	line, number = p.line, p.n
	if p.n > 0 && !p.ended && p.more() != nil {
		return nil, line, number
	}
	if text = p.lines(); len(text) == 0 {
		return nil, line, number
	}
	p.rest = bytes.Clone(p.rest[len(text):])
	p.line += bytes.Count(text, []byte("\n"))
	p.n++
	return text, line, number
}

// lines are the whole lines of what was read.
func (p *Parts) lines() []byte {
	if p.ended {
		return p.rest
	}
	return p.rest[:bytes.LastIndexByte(p.rest, '\n')+1]
}

func (p *Parts) refuse() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.odd = true
}

// Took notes that a part was read to its end.
func (p *Parts) Took(t *Table) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if t.decimal != 0 {
		p.odd = p.odd || p.decimal != 0 && p.decimal != t.decimal
		p.decimal = t.decimal
	}
	p.odd = p.odd || t.Err() != nil
}

// Close releases the file.
func (p *Parts) Close() error { return p.file.Close() }

// Whole is the table that was read. ok is false where the parts alone do not
// tell what must be said of it, as for a fault: then it is to be opened, and
// read, as one.
func (p *Parts) Whole() (t *Table, ok bool) {
	p.head.sha256, p.head.decimal, p.head.ended = hex.EncodeToString(p.sum.Sum(nil)), p.decimal, true
	return p.head, !p.odd
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
const someText = 32 << 10

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
	s.fields = appendFields(s.fields[:0], line, s.delim)
	return s.fields, start, nil
}
