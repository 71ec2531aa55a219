package ingest

import (
	"context"
	"fmt"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
)

// sheetDelimiter parts the fields of a workbook's rows on their way to the
// workers; it stands in no cell.
const sheetDelimiter = 0x1F

// sheet reads a workbook's first sheet as blocks and settles its layout.
func (r *run) sheet(ctx context.Context, file int) ([]block, error) {
	blocks, t, err := r.sheetBlocks(ctx, file)
	if err != nil {
		return nil, err
	}
	name := r.files[file].name
	l := &layout{delim: sheetDelimiter, fields: len(t.Header)}
	if l.columns, err = findColumns(t.Header, r.st.Sightings); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	l.need = l.columns.need()
	r.nearColumns(t.Header, file)
	var v clock.Survey
	for i := range blocks {
		blocks[i].layout = l
		l.surveyTimes(&v, blocks[i].data, blocks[i].line)
	}
	if err := r.settleTime(l, &v, file); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	r.layouts[file] = l
	r.sums[file] = t.SHA256()
	return blocks, nil
}

// sheetBlocks makes lines of the rows of a workbook's first sheet.
func (r *run) sheetBlocks(ctx context.Context, file int) ([]block, *read.Table, error) {
	t, err := read.OpenContext(ctx, r.files[file].path)
	if err != nil {
		return nil, nil, err
	}
	defer t.Close()
	blocks := []block{}
	last := -1
	for t.Next() {
		// A block's lines count one by one: rows left out in between, and
		// long blocks, start a new one.
		if n := len(blocks); n == 0 || len(blocks[n-1].data) > blockSize || t.Line() != last+1 {
			if err := ctx.Err(); err != nil {
				return nil, nil, err
			}
			blocks = append(blocks, block{line: t.Line(), file: file})
		}
		last = t.Line()
		b := &blocks[len(blocks)-1]
		for i := range t.Header {
			if i > 0 {
				b.data = append(b.data, sheetDelimiter)
			}
			b.data = append(b.data, cleanCell(t.Field(i))...)
		}
		b.data = append(b.data, '\n')
	}
	return blocks, t, t.Err()
}

// cleanCell keeps a cell from looking like several, or like a quoted one.
func cleanCell(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case '\n', '\r', sheetDelimiter:
			return ' '
		case '"':
			return '\''
		}
		return r
	}, s)
}
