package propose

import (
	"context"
	"strings"

	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/table"
)

// Record is a line of a table, as it is written and taken apart.
type Record struct {
	Line   int      // in the file, from 1
	Text   string   // the line itself
	Fields []string // without blanks at their ends; nil where quotes are at fault
}

// FirstRecords are the first n lines of a table below its header, with the names
// of its columns.
func FirstRecords(ctx context.Context, f table.File, n int) (header []string, out []Record, err error) {
	b, err := table.OpenBlocks(ctx, f, false)
	if err != nil {
		return nil, nil, err
	}
	defer b.Close()
	split := dialect.Splitter{Delimiter: b.Delimiter}
	err = b.Each(ctx, func(x table.Block) (bool, error) {
		return x.Lines(func(line []byte, number int) bool {
			r := Record{Line: number, Text: strings.TrimRight(string(line), "\r\n")}
			if cut, ok := split.Line(line); ok {
				for i := range cut.Count() {
					r.Fields = append(r.Fields, strings.TrimSpace(string(cut.At(i))))
				}
			}
			out = append(out, r)
			return len(out) >= n
		}), nil
	})
	return b.Names, out, err
}
