// Package propose makes a study file by looking at a user's tables.
//
// Begin with [Study]; ExampleStudy shows it.
package propose

import (
	"context"
	"strings"

	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/table"
)

// Study looks at the tables under the paths (files, or folders with all that
// is in them) and proposes a study file that will stand in the folder base.
// Columns are told by what they hold, not by what they are called. The error
// says what is missing where no study can be proposed.
func Study(ctx context.Context, paths []string, base string) (*Proposal, error) {
	p, err := Told(ctx, paths, base, nil)
	if err != nil {
		return nil, err
	}
	return p, nil
}

// Told proposes as [Study] does where a user says what some tables are, by the
// names that [Taken] gives them. The proposal is there with an error too: then it
// has no text, and its tables as far as they are known.
func Told(ctx context.Context, paths []string, base string, said map[string]Said) (*Proposal, error) {
	g := &guess{base: base, said: said}
	for _, step := range []func(context.Context) error{
		func(ctx context.Context) error { return g.gather(ctx, paths) }, g.roles, g.mapSightings, g.laterSites,
		func(context.Context) error { g.findRelease(); return nil }, g.river,
	} {
		if err := step(ctx); err != nil {
			return &Proposal{Tables: g.taken(), Doubts: g.doubts}, err
		}
	}
	return g.render(), nil
}

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
