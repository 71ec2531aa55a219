package table

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"example.org/unseen/history/internal/dialect"
)

// blockSize is about the size of a block.
const blockSize = 128 << 10

// MaxRecord is the longest record in bytes.
const MaxRecord = 1 << 20

// Block is a run of whole lines of a file.
type Block struct {
	Data []byte // whole lines, with their ends
	// Line is the 1-based number of the block's first line.
	Line int
	// TooLong: the block stands for one line that is longer than MaxRecord,
	// and whose bytes are passed over.
	TooLong bool

	eightBit bool // a line was not UTF-8
}

// Blocks cuts a table into blocks of whole lines, for readers that take lines
// apart by themselves, as fast as that can be. A workbook comes as lines too.
type Blocks struct {
	// Names are those of the columns, in the header; it is not among the blocks.
	Names []string
	// Delimiter parts the fields of a line.
	Delimiter byte
	// Place is where the last block began, for [Blocks.GoTo], and Line the number
	// of the line behind it.
	Place int64
	Line  int

	source *source
	size   int    // of a block
	rest   []byte // what was read behind the last cut
	ended  bool
	taken  int64 // bytes of the text that were read

	held []Block // those that come before any other

	joined func(out, line []byte) []byte // of a line, with joined columns; or nil

	note func(line int) // told of the lines that are not UTF-8, where it is wanted
}

func blocksOf(s *source) *Blocks {
	return &Blocks{Delimiter: s.delimiter, source: s, size: blockSize, Line: 1}
}

// Next gives the next block, in the memory of buf where that will do; io.EOF
// after the last.
func (b *Blocks) Next(ctx context.Context, buf []byte) (Block, error) {
	if b.source == nil {
		return Block{}, io.EOF
	}
	x, err := b.next(ctx, buf)
	if err != nil && !errors.Is(err, io.EOF) && ctx.Err() == nil {
		err = fmt.Errorf("%s: %w", b.source.name, err)
	}
	return x, err
}

func (b *Blocks) next(ctx context.Context, buf []byte) (Block, error) {
	if err := ctx.Err(); err != nil {
		return Block{}, err
	}
	if len(b.held) > 0 {
		x := b.held[0]
		b.held = b.held[1:]
		b.Place = b.taken - int64(len(b.rest)) - int64(len(x.Data))
		b.Line = x.Line + bytes.Count(x.Data, []byte("\n"))
		return x, nil
	}
	if b.source.isSheet {
		return Block{}, io.EOF
	}
	if cap(buf) < b.size {
		buf = make([]byte, 0, b.size)
	}
	b.Place = b.taken - int64(len(b.rest))
	buf = append(buf[:0], b.rest...)
	b.rest = b.rest[:0]
	searched := 0
	for !b.ended {
		if cap(buf)-len(buf) < b.size/4 {
			buf = append(make([]byte, 0, 2*cap(buf)), buf...)
		}
		n, err := b.read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		if err != nil {
			return Block{}, err
		}
		if len(buf) < b.size*3/4 && !b.ended {
			continue
		}
		cut := bytes.LastIndexByte(buf[searched:], '\n')
		if cut >= 0 {
			cut += searched + 1
			b.rest = append(b.rest, buf[cut:]...)
			buf = buf[:cut]
			break
		}
		if searched = len(buf); searched > MaxRecord {
			return b.skip(ctx)
		}
	}
	if len(buf) == 0 {
		return Block{}, io.EOF
	}
	x := Block{Data: buf, Line: b.Line}
	if !utf8.Valid(buf) {
		x.eightBit = true
		x.Data = dialect.UTF8Lines(buf, func(n int) {
			if b.note != nil {
				b.note(x.Line + n)
			}
		})
		// Where the rest of the header's block began in the file is not known.
		b.source.plain = b.source.plain && x.Line > 1
	}
	if b.source.rewrite != nil {
		x.Data = rewriteLines(x.Data, b.source.rewrite)
	}
	if b.joined != nil {
		x.Data = rewriteLines(x.Data, b.joined)
	}
	b.Line += bytes.Count(buf, []byte("\n"))
	return x, nil
}

// read reads on in the text.
func (b *Blocks) read(p []byte) (n int, err error) {
	n, err = b.source.text.Read(p)
	b.taken += int64(n)
	if errors.Is(err, io.EOF) {
		b.ended, err = true, nil
	}
	if err != nil {
		err = b.source.explain(err)
	}
	return n, err
}

// skip passes over the rest of a line that is too long.
func (b *Blocks) skip(ctx context.Context) (Block, error) {
	buf := make([]byte, b.size)
	x := Block{Line: b.Line, TooLong: true}
	for !b.ended {
		if err := ctx.Err(); err != nil {
			return x, err
		}
		n, err := b.read(buf)
		if err != nil {
			return x, err
		}
		if i := bytes.IndexByte(buf[:n], '\n'); i >= 0 {
			b.rest = append(b.rest, buf[i+1:n]...)
			b.Line++
			break
		}
	}
	return x, nil
}

// Each gives one block after the other in the same memory, until f says stop or
// fails.
func (b *Blocks) Each(ctx context.Context, f func(x Block) (stop bool, err error)) error {
	var buf []byte
	for {
		x, err := b.Next(ctx, buf)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if stop, err := f(x); stop || err != nil {
			return err
		}
		if !x.TooLong {
			buf = x.Data
		}
	}
}

// Lines gives the lines of a block that are not blank, each with its number,
// until f says stop; it tells whether it did.
func (x Block) Lines(f func(line []byte, number int) (stop bool)) bool {
	for data, n := x.Data, x.Line; f != nil && len(data) > 0; n++ {
		var line []byte
		if line, data = dialect.CutLine(data); !dialect.IsBlank(line) && f(line, n) {
			return true
		}
	}
	return false
}

// GoTo goes on with the block that began at a place, and with a line. Where the
// file cannot be entered in its middle it stays where it is.
func (b *Blocks) GoTo(place int64, line int) {
	if place > 0 && b.source != nil && b.source.seek(place) {
		b.held, b.rest, b.ended, b.taken, b.Line = nil, b.rest[:0], false, place, line
	}
}

// Unsummed tells whether the file is compressed without a checksum of its text,
// so that damage to it cannot be noticed.
func (b *Blocks) Unsummed() bool { return b.source != nil && b.source.unsummed }

// Taken is how many of the file's own bytes were read.
func (b *Blocks) Taken() int64 {
	if b.source == nil {
		return 0
	}
	return b.source.taken
}

// Finish is called at the end: it gives the sum in hex of the file's own bytes,
// and an error where the file became shorter while it was read.
func (b *Blocks) Finish() (sha256 string, err error) {
	if b.source == nil {
		return "", nil
	}
	if sha256, err = b.source.finish(); err != nil {
		err = fmt.Errorf("%s: %w", b.source.name, err)
	}
	return sha256, err
}

// Close releases the file.
func (b *Blocks) Close() error { return b.source.shut() }
