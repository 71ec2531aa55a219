package table

import (
	"context"
	"fmt"
	"io"
)

// OpenBlocks opens a table, to be read until ctx ends and closed after use, and
// reads its header. withSum: the sum of its bytes is wanted in the end.
func OpenBlocks(ctx context.Context, file File, withSum bool) (*Blocks, error) {
	f, size, err := openFile(ctx, file.Path)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, fmt.Errorf("the array file cannot be read: %w", err)
	}
	b, err := newBlocks(ctx, file, f, size, withSum)
	if err != nil {
		f.Close()
		return nil, err
	}
	b.source.close = append([]func() error{f.Close}, b.source.close...)
	return b, nil
}

func newBlocks(ctx context.Context, file File, r io.Reader, size int64, withSum bool) (*Blocks, error) {
	s, err := newSource(ctx, file.Name, r, size, withSum, file.Reading)
	if err != nil {
		return nil, err
	}
	s.wants = file.Wants
	t, err := startTable(s)
	var b *Blocks
	if err == nil && s.isSheet {
		b, err = sheetBlocks(t)
	} else if err == nil {
		b = textBlocks(t.records)
	}
	if err != nil {
		s.shut()
		return nil, err
	}
	b.Names = t.Header
	return b, nil
}

// textBlocks are those behind the header.
func textBlocks(r records) *Blocks {
	joined, ok := r.(*joinedRecords)
	if !ok {
		return r.(*textRecords).rest()
	}
	b := joined.records.(*textRecords).rest()
	b.join(joined.joiner)
	return b
}

// sheetBlocks makes lines of the rows of a workbook's first sheet.
func sheetBlocks(t *Table) (*Blocks, error) {
	b := blocksOf(t.file)
	b.Delimiter = cellDelimiter
	last := -1
	for t.Next() {
		// A block's lines count one by one: rows left out in between, and
		// long blocks, start a new one.
		if n := len(b.held); n == 0 || len(b.held[n-1].Data) > b.size || t.Line() != last+1 {
			b.held = append(b.held, Block{Line: t.Line()})
		}
		last = t.Line()
		x := &b.held[len(b.held)-1]
		for i := range t.Header {
			if i > 0 {
				x.Data = append(x.Data, cellDelimiter)
			}
			x.Data = appendCell(x.Data, []byte(t.Field(i)))
		}
		x.Data = append(x.Data, '\n')
	}
	return b, t.Err()
}
