package table

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"sync"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
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
	head *Table

	mu     sync.Mutex
	blocks *Blocks
	first  Block // what follows the header
	n      int   // parts given
	// odd: the parts do not tell what must be said of the table.
	odd bool
}

// OpenParts opens a table that a study names, to be closed after use; nil where
// it is not to be read in parts, but by [OpenFor]: it is small, compressed or a
// workbook, or holds quotes.
func OpenParts(ctx context.Context, conf *study.Table) *Parts {
	if conf == nil || !sameReading(conf.Reading, study.Reading{Decimal: conf.Decimal}) {
		return nil
	}
	p := openParts(ctx, conf.File, leastParted, partSize)
	if p != nil {
		p.head.tell(conf)
	}
	return p
}

func openParts(ctx context.Context, path string, least int64, part int) *Parts {
	// A pipe can be opened once only.
	if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() || info.Size() < least {
		return nil
	}
	f, size, err := openFile(ctx, path)
	if err != nil {
		return nil
	}
	p := &Parts{}
	if s, err := newSource(ctx, path, f, size, true, study.Reading{}); err == nil && s.plain {
		s.close = append(s.close, f.Close)
		if p.blocks = blocksOf(s); p.start(path, part) {
			return p
		}
	}
	f.Close()
	return nil
}

// start reads the first part, with the header.
func (p *Parts) start(path string, part int) (ok bool) {
	var err error
	p.blocks.size = part
	if p.first, err = p.blocks.next(p.blocks.source.ctx, nil); err != nil || p.first.TooLong || !plain(p.first) {
		return false
	}
	// A second mark of the byte order would be taken off with the header.
	if bytes.HasPrefix(p.first.Data, []byte("\ufeff")) {
		return false
	}
	// A part may end before all that the delimiter is told from.
	if p.head, err = New(path, bytes.NewReader(p.first.Data)); err != nil || byte(p.head.Delimiter) != p.blocks.source.delimiter {
		return false
	}
	for ; p.first.Line <= p.head.line; p.first.Line++ {
		_, p.first.Data, _ = bytes.Cut(p.first.Data, []byte("\n"))
	}
	return true
}

// plain tells whether a block is UTF-8 and every line end in it ends a record.
func plain(x Block) bool {
	return bytes.IndexByte(x.Data, '"') < 0 && bytes.IndexByte(x.Data, 0) < 0 && !x.eightBit
}

// Head is the table with its header alone.
func (p *Parts) Head() *Table { return p.head }

// Start is a table of the first records, which the parts will give too.
func (p *Parts) Start() *Table { return p.table(p.first) }

func (p *Parts) table(x Block) *Table {
	if p.head == nil {
		return &Table{}
	}
	h, b := p.head, blocksOf(&source{ctx: p.blocks.source.ctx, text: bytes.NewReader(x.Data), delimiter: byte(p.head.Delimiter)})
	b.Line = x.Line
	return &Table{File: h.File, Shown: h.Shown, Header: h.Header, Delimiter: h.Delimiter, said: h.said, records: newTextRecords(b, nil), faults: history.Faults{Keep: MaxFaults}}
}

// Likely is about how many records the table has.
func (p *Parts) Likely() int {
	n := bytes.Count(p.first.Data, []byte("\n"))
	if n == 0 {
		return 0
	}
	return int(1.05 * float64(n) * float64(p.blocks.source.size) / float64(len(p.first.Data)+1))
}

// Next gives the next part and its number from 0; nil after the last one, or
// where the table must be read as one after all. When it is read to its end,
// [Parts.Took] must be told.
func (p *Parts) Next() (t *Table, number int) {
	x, number, ok := p.take()
	if ok && plain(x) {
		return p.table(x), number
	}
	if ok {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.odd = true
	}
	return nil, 0
}

// take gives the next part's lines, if there is one to give.
func (p *Parts) take() (x Block, number int, ok bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.odd || p.head == nil {
		return x, 0, false
	}
	if x = p.first; p.n > 0 {
		var err error
		if x, err = p.blocks.next(p.blocks.source.ctx, nil); errors.Is(err, io.EOF) {
			return x, 0, false
		} else if err != nil || x.TooLong {
			p.odd = true
			return x, 0, false
		}
	}
	p.n++
	return x, p.n - 1, true
}

// Took notes that a part was read to its end.
func (p *Parts) Took(t *Table) {
	if p.head == nil || t == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.head.decimals == nil {
		p.head.decimals = t.decimals
	}
	for i, d := range t.decimals[:min(len(t.decimals), len(p.head.decimals))] {
		h := &p.head.decimals[i]
		p.odd = p.odd || h.mark != 0 && d.mark != 0 && h.mark != d.mark
		if h.mark == 0 {
			*h = d
		}
	}
	p.odd = p.odd || t.Err() != nil
}

// Close releases the file.
func (p *Parts) Close() error {
	if p.blocks == nil {
		return nil
	}
	return p.blocks.Close()
}

// Whole is the table that was read. ok is false where the parts alone do not
// tell what must be said of it, as for a fault: then it is to be opened, and
// read, as one.
func (p *Parts) Whole() (t *Table, ok bool) {
	if p.head == nil {
		return &Table{}, false
	}
	sha256, err := p.blocks.Finish()
	p.head.sha256, p.head.ended = sha256, true
	return p.head, !p.odd && err == nil
}
