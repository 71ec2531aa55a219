package table

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"slices"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding"

	"example.org/unseen/history"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
)

// source is a file being read until its context ends: its own bytes are counted
// and summed, its text comes out decompressed, without a byte order mark.
type source struct {
	ctx  context.Context
	name string // in messages
	size int64  // of the file as it was opened; -1 where not known
	// reading is what the study says of it, and wants tells a header that has
	// the columns wanted, if there is a choice of sheets.
	reading study.Reading
	wants   func(header []string) bool

	text      io.Reader // nil in a workbook
	rest      io.Reader // of the text behind its start
	isSheet   bool      // a workbook, to be read from raw bytes
	delimiter byte
	columns   int                           // where no line names them
	rewrite   func(out, line []byte) []byte // of a line, that it be parted by delimiter; or nil
	plain     bool                          // the text is the file's own bytes
	unsummed  bool                          // compressed without a sum of the text
	skipped   int64                         // bytes of a byte order mark

	raw    io.Reader
	sum    hash.Hash // nil where no sum is wanted
	taken  int64     // of the file's own bytes
	failed error     // of the file's own reader
	close  []func() error
}

// startText is how much of a text is looked at to settle how it is written.
const startText = 64 << 10

// newSource reads a file from r, which it does not close. What r holds is told
// by its first bytes, not by its name.
func newSource(ctx context.Context, name string, r io.Reader, size int64, withSum bool, how study.Reading) (*source, error) {
	s := &source{ctx: ctx, name: name, raw: r, size: size, reading: how}
	if withSum {
		s.sum = sha256.New()
	}
	if err := s.open(); err != nil {
		s.shut()
		return nil, err
	}
	return s, nil
}

func (s *source) open() error {
	magic := make([]byte, 5)
	n, err := fill(readerFunc(s.readRaw), magic)
	if s.failed != nil {
		return s.refuse(0, "%v", s.explain(err))
	}
	magic = magic[:n]
	whole := io.MultiReader(bytes.NewReader(magic), readerFunc(s.readRaw))
	switch {
	case bytes.HasPrefix(magic, []byte("\x1f\x8b")):
		z, err := gzip.NewReader(whole)
		if err != nil {
			return s.refuse(0, "%v", s.explain(err))
		}
		s.text, s.close = z, append(s.close, z.Close)
	case bytes.HasPrefix(magic, []byte("\x28\xb5\x2f\xfd")):
		// RFC 8878, 3.1.1.1.1: bit 2 of the frame header's descriptor.
		s.unsummed = len(magic) > 4 && magic[4]&4 == 0
		z, err := zstd.NewReader(whole, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(256<<20))
		if err != nil {
			return s.refuse(0, "%v", s.explain(err))
		}
		s.text, s.close = z, append(s.close, func() error { z.Close(); return nil })
	case bytes.HasPrefix(magic, []byte("PK\x03\x04")):
		s.text, s.isSheet = whole, true
		return s.onlySheet()
	case bytes.HasPrefix(magic, []byte("\xd0\xcf\x11\xe0")):
		return s.refuse(0, "this is a workbook of the old kind (.xls); save it as .xlsx or as CSV")
	default:
		s.text, s.plain = whole, true
	}
	if err := s.onlySheet(); err != nil {
		return err
	}
	return s.settle()
}

// settle finds out how the text is written from its start.
func (s *source) settle() error {
	start, err := s.peek()
	if err != nil && !errors.Is(err, io.EOF) && len(start) == 0 {
		return s.refuse(1, "%v", s.explain(err))
	}
	if s.reading.Encoding != "" {
		if err := s.decode(start); err != nil {
			return err
		}
		start, err = s.peek()
	} else if is, mark := dialect.WideEncoding(start); is != nil {
		s.skip(start, mark)
		s.text, s.plain = is.NewDecoder().Reader(s.text), false
		start, err = s.peek()
	}
	if bytes.HasPrefix(start, []byte("\xef\xbb\xbf")) {
		s.skip(start, 3)
		start, s.skipped = start[3:], 3
	}
	first, _, found := bytes.Cut(bytes.TrimLeft(start, " \r\n"), []byte("\n"))
	if i := bytes.IndexByte(first, '\r'); i >= 0 && (!found || i < len(first)-1 && bytes.IndexByte(first, '"') < 0) {
		s.text, s.plain = &dialect.LineEnds{Reader: s.text}, false
		start, err = s.peek()
	}
	s.cut(start, errors.Is(err, io.EOF))
	return nil
}

// decode has the text read in the encoding that the study says, if it does.
func (s *source) decode(start []byte) error {
	name := s.reading.Encoding
	if name == "" || name == "utf-8" {
		return nil
	}
	var is encoding.Encoding
	mark := 0
	switch name {
	case "utf-16", "utf-32":
		if is, mark = dialect.WideEncoding(start); is == nil {
			return s.refuse(1, "this is no text in %s, as encoding says", name)
		}
	default:
		var err error
		if is, err = study.EncodingOf(name); err != nil {
			return s.refuse(0, "no encoding is called %q", name)
		}
	}
	s.skip(start, mark)
	s.text, s.plain = is.NewDecoder().Reader(s.text), false
	return nil
}

// cut settles what parts the fields of a text.
func (s *source) cut(start []byte, whole bool) {
	r := &s.reading
	text := start
	for n := 1; len(r.HeaderLine) > 0 && n < r.HeaderLine[len(r.HeaderLine)-1]; n++ {
		_, text, _ = bytes.Cut(text, []byte("\n"))
	}
	switch {
	case r.Widths != nil:
		s.delimiter, s.rewrite, s.plain = cellDelimiter, byWidth(r.Widths), false
	case r.Delimiter == study.Blanks:
		s.delimiter, s.rewrite, s.plain = cellDelimiter, byBlanks, false
	case r.Delimiter != "":
		s.delimiter = r.Delimiter[0]
	default:
		s.delimiter = dialect.Delimiter(text, whole)
	}
	if r.NoHeader() {
		s.columns = s.countColumns(start, whole)
	}
}

// countColumns is how many fields most of the first lines of a text have.
func (s *source) countColumns(start []byte, whole bool) int {
	if !whole { // the last line is perhaps cut off
		start = start[:bytes.LastIndexByte(start, '\n')+1]
	}
	split := dialect.Splitter{Delimiter: s.delimiter}
	count := map[int]int{}
	best := 0
	for line := range bytes.Lines(start) {
		line, _ = dialect.CutLine(line)
		if s.rewrite != nil {
			line = s.rewrite(nil, line)
		}
		if f, ok := split.Line(line); ok && !dialect.IsBlank(line) {
			n := f.Count()
			if count[n]++; count[n] > count[best] || count[n] == count[best] && n > best {
				best = n
			}
		}
	}
	return best
}

// onlySheet refuses what is said of a file that is of the other sort, text or a
// workbook.
func (s *source) onlySheet() error {
	r := &s.reading
	switch {
	case s.isSheet && (r.Widths != nil || r.Delimiter != "" || r.Encoding != ""):
		return s.refuse(0, "this is a workbook; widths, delimiter and encoding are for text")
	case !s.isSheet && r.Sheet != "":
		return s.refuse(0, "this is text; sheet = %q is for workbooks", r.Sheet)
	}
	return nil
}

// sameReading tells whether two files are read alike.
func sameReading(a, b study.Reading) bool {
	return a.Sheet == b.Sheet && slices.Equal(a.HeaderLine, b.HeaderLine) && slices.Equal(a.Widths, b.Widths) &&
		a.Delimiter == b.Delimiter && a.Encoding == b.Encoding && a.Decimal == b.Decimal && len(a.Joins)+len(b.Joins)+len(a.FillDown)+len(b.FillDown) == 0
}

// peek gives the start of the text, which is still to be read.
func (s *source) peek() ([]byte, error) {
	start := make([]byte, startText)
	n, err := fill(s.text, start)
	rest := s.text
	if err != nil { // it is met again behind what could be read
		rest = readerFunc(func([]byte) (int, error) { return 0, err })
	}
	s.rest = rest
	s.skip(start[:n], 0)
	return start[:n], err
}

// skip passes over n bytes of the start that peek gave.
func (s *source) skip(start []byte, n int) {
	s.text = io.MultiReader(bytes.NewReader(start[n:]), s.rest)
}

// fill reads until p is full or an error comes, io.EOF among them.
func fill(r io.Reader, p []byte) (n int, err error) {
	for n < len(p) && err == nil {
		var k int
		k, err = r.Read(p[n:])
		n += k
	}
	return n, err
}

// refuse is a fault that stands alone, unless the context has ended.
func (s *source) refuse(line int, format string, args ...any) error {
	if err := s.ctx.Err(); err != nil {
		return err
	}
	var f history.Faults
	f.Add(history.Pos{File: s.name, Line: line}, format, args...)
	return f.Err()
}

// seek goes to a byte of the text of a plain file; false where that cannot be.
// Afterwards neither the sum nor the length is the file's.
func (s *source) seek(at int64) bool {
	f, ok := s.raw.(io.Seeker)
	if !ok || !s.plain {
		return false
	}
	if _, err := f.Seek(at+s.skipped, io.SeekStart); err != nil {
		return false
	}
	s.text = readerFunc(s.readRaw)
	return true
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

func (s *source) readRaw(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := s.raw.Read(p)
	s.taken += int64(n)
	if s.sum != nil {
		s.sum.Write(p[:n])
	}
	if err != nil && !errors.Is(err, io.EOF) {
		s.failed = err
	}
	return n, err
}

// explain says in words what ended the reading.
func (s *source) explain(err error) error {
	switch {
	case s.ctx.Err() != nil:
		return s.ctx.Err()
	case s.failed != nil:
		return fmt.Errorf("the file cannot be read any farther: %w", s.failed)
	case s.size >= 0 && s.taken < s.size:
		return fmt.Errorf("the compressed file is damaged after %d of %d bytes: %w; get a complete copy", s.taken, s.size, err)
	}
	return fmt.Errorf("the compressed file is cut off or damaged: %w; get a complete copy", err)
}

// finish is called at the end of the text: it reads what is left of the file's
// own bytes, checks that the file was as long as when it was opened, and gives
// the sum of its bytes in hex.
func (s *source) finish() (sha256 string, err error) {
	if _, err := io.Copy(io.Discard, readerFunc(s.readRaw)); err != nil {
		return "", s.explain(err)
	}
	if s.taken < s.size {
		return "", fmt.Errorf("the file had %d bytes when it was opened and only %d could be read: it became shorter in between; read it again when it is complete", s.size, s.taken)
	}
	if s.sum == nil {
		return "", nil
	}
	return hex.EncodeToString(s.sum.Sum(nil)), nil
}

func (s *source) shut() error {
	if s == nil {
		return nil
	}
	var errs []error
	for i := len(s.close) - 1; i >= 0; i-- {
		errs = append(errs, s.close[i]())
	}
	s.close = nil
	return errors.Join(errs...)
}
