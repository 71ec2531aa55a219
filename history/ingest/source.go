package ingest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"example.org/unseen/history/read"
)

const (
	// blockSize is how much of a file a worker gets at a time.
	blockSize = 128 << 10
	// maxLine is the longest line that is read; a longer one is an
	// unreadable record.
	maxLine = 1 << 20
)

// source is an array file being read: its own bytes are counted and summed,
// its text comes out decompressed.
type source struct {
	name string // in messages
	text io.Reader
	size int64 // of the file as it was opened; -1 where not known

	plain  bool // the text is the file's own bytes
	raw    io.Reader
	sum    hash.Hash // nil where no sum is wanted
	taken  int64     // of the file's own bytes
	failed error     // of the file's own reader
	// unsummed: compressed without a sum of its text.
	unsummed bool
	close    []func()
}

func openSource(ctx context.Context, path string, withSum bool) (*source, error) {
	f, err := read.OpenFile(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("the array file cannot be read: %w", err)
	}
	st, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("the array file cannot be read: %w", err)
	}
	size := st.Size()
	if !st.Mode().IsRegular() {
		size = -1
	}
	s, err := newSource(path, untilFile{f, read.Until(ctx, f)}, size, withSum)
	if err != nil {
		f.Close()
		return nil, err
	}
	s.close = append(s.close, func() { f.Close() })
	return s, nil
}

// untilFile is a file that is read until a context ends.
type untilFile struct {
	io.Seeker
	io.Reader
}

// newSource reads an array file from r, which it does not close. What r holds
// is told by its first bytes.
func newSource(name string, r io.Reader, size int64, withSum bool) (*source, error) {
	s := &source{name: name, raw: r, size: size}
	if withSum {
		s.sum = sha256.New()
	}
	magic := make([]byte, 5)
	n, err := io.ReadFull(readerFunc(s.readRaw), magic)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, s.explain(err)
	}
	magic = magic[:n]
	whole := io.MultiReader(bytes.NewReader(magic), readerFunc(s.readRaw))
	switch {
	case bytes.HasPrefix(magic, []byte("\x1f\x8b")):
		z, err := gzip.NewReader(whole)
		if err != nil {
			return nil, s.explain(err)
		}
		s.text = z
	case bytes.HasPrefix(magic, []byte("\x28\xb5\x2f\xfd")):
		s.unsummed = read.Unsummed(magic)
		z, err := zstd.NewReader(whole, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(256<<20))
		if err != nil {
			return nil, s.explain(err)
		}
		s.text = z
		s.close = append(s.close, z.Close)
	case bytes.HasPrefix(magic, []byte("\xff\xfe")), bytes.HasPrefix(magic, []byte("\xfe\xff")):
		return nil, fmt.Errorf("%s: the file is UTF-16 text; save it as CSV in UTF-8", name)
	case bytes.HasPrefix(magic, []byte("\xd0\xcf\x11\xe0")):
		return nil, fmt.Errorf("%s: this is a workbook of the old kind (.xls); save it as .xlsx or as CSV", name)
	default:
		s.text, s.plain = whole, true
	}
	return s, nil
}

// seek goes to a byte of a plain file; false where that cannot be. Afterwards
// neither the sum nor the length is the file's.
func (s *source) seek(at int64) bool {
	f, ok := s.raw.(io.Seeker)
	if !ok || !s.plain {
		return false
	}
	if _, err := f.Seek(at, io.SeekStart); err != nil {
		return false
	}
	s.text = readerFunc(s.readRaw)
	return true
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

func (s *source) readRaw(p []byte) (int, error) {
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
	case s.failed != nil:
		return fmt.Errorf("%s: the file cannot be read any farther: %w", s.name, s.failed)
	case s.size >= 0 && s.taken < s.size:
		return fmt.Errorf("%s: the compressed file is damaged after %d of %d bytes: %w; get a complete copy", s.name, s.taken, s.size, err)
	}
	return fmt.Errorf("%s: the compressed file is cut off or damaged: %w; get a complete copy", s.name, err)
}

// finish is called at the end of the text: it reads what is left of the
// file's own bytes and checks that the file was as long as when it was opened.
func (s *source) finish() error {
	if _, err := io.Copy(io.Discard, readerFunc(s.readRaw)); err != nil {
		return s.explain(err)
	}
	if s.taken < s.size {
		return fmt.Errorf("%s: the file had %d bytes when it was opened and only %d could be read: it became shorter in between; read it again when it is complete", s.name, s.size, s.taken)
	}
	return nil
}

// sha256 is the sum of the file's own bytes, after finish.
func (s *source) sha256() string { return hex.EncodeToString(s.sum.Sum(nil)) }

func (s *source) shut() {
	for i := len(s.close) - 1; i >= 0; i-- {
		s.close[i]()
	}
}

// block is a run of whole lines of one file.
type block struct {
	data []byte
	// line is the 1-based number of the block's first line.
	line int
	// file and number are the places of the file among the files, and of the
	// block among all blocks.
	file, number int
	// tooLong: the block stands for one line that is too long to be read.
	tooLong bool
	layout  *layout
}

// blocks cuts a source's text at line ends.
type blocks struct {
	s     *source
	rest  []byte // what was read behind the last cut
	line  int
	ended bool
	taken int64 // bytes of the text that were read
	start int64 // where in the text the last block started
}

func newBlocks(s *source) *blocks { return &blocks{s: s, line: 1} }

func (b *blocks) read(p []byte) (int, error) {
	n, err := b.s.text.Read(p)
	b.taken += int64(n)
	return n, err
}

// next gives the next run of whole lines in buf, grown where a line needs it,
// or io.EOF. tooLong stands for a line longer than maxLine, whose bytes are
// passed over.
func (b *blocks) next(ctx context.Context, buf []byte) (data []byte, line int, tooLong bool, err error) {
	if err := ctx.Err(); err != nil {
		return nil, 0, false, err
	}
	if cap(buf) < blockSize {
		buf = make([]byte, 0, blockSize)
	}
	b.start = b.taken - int64(len(b.rest))
	buf = append(buf[:0], b.rest...)
	b.rest = b.rest[:0]
	searched := 0
	for !b.ended {
		if cap(buf)-len(buf) < blockSize/4 {
			buf = append(make([]byte, 0, 2*cap(buf)), buf...)
		}
		n, err := b.read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		if errors.Is(err, io.EOF) {
			b.ended = true
		} else if err != nil {
			return nil, 0, false, b.s.explain(err)
		}
		if len(buf) < blockSize*3/4 && !b.ended {
			continue
		}
		cut := bytes.LastIndexByte(buf[searched:], '\n')
		if cut >= 0 {
			cut += searched + 1
			b.rest = append(b.rest, buf[cut:]...)
			buf = buf[:cut]
			break
		}
		if searched = len(buf); searched > maxLine {
			return b.skip(ctx)
		}
	}
	if len(buf) == 0 {
		return nil, 0, false, io.EOF
	}
	line = b.line
	b.line += bytes.Count(buf, []byte("\n"))
	return buf, line, false, nil
}

// each gives one block after the other in the same memory, until f says stop or
// fails.
func (b *blocks) each(ctx context.Context, f func(data []byte, line int, tooLong bool) (stop bool, err error)) error {
	var buf []byte
	for {
		data, line, tooLong, err := b.next(ctx, buf)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if stop, err := f(data, line, tooLong); stop || err != nil {
			return err
		}
		if !tooLong {
			buf = data
		}
	}
}

// skip passes over the rest of a line that is too long.
func (b *blocks) skip(ctx context.Context) ([]byte, int, bool, error) {
	buf := make([]byte, blockSize)
	line := b.line
	for !b.ended {
		if err := ctx.Err(); err != nil {
			return nil, 0, false, err
		}
		n, err := b.read(buf)
		if errors.Is(err, io.EOF) {
			b.ended = true
		} else if err != nil {
			return nil, 0, false, b.s.explain(err)
		}
		if i := bytes.IndexByte(buf[:n], '\n'); i >= 0 {
			b.rest = append(b.rest, buf[i+1:n]...)
			b.line++
			break
		}
	}
	return nil, line, true, nil
}
