package sighting

import (
	"context"

	"example.org/unseen/history/rule"
	"example.org/unseen/history/table"
)

// reread reads a file once more, in order, and gives each record from about a
// block's start on as finally judged. It stops where f says so or fails.
func (r *run) reread(ctx context.Context, from blockStart, c *reader, f func(rec *record) (stop bool, err error)) error {
	b, err := table.OpenBlocks(ctx, r.files[from.file], false)
	if err != nil {
		return err
	}
	defer b.Close()
	b.GoTo(from.place, from.line)
	return b.Each(ctx, func(x table.Block) (stop bool, err error) {
		if b.Line <= from.line {
			return false, nil // the next block is not yet too far
		}
		c.eachBatch(&block{Block: x, file: from.file, layout: r.layouts[from.file]}, func(recs []record) {
			for i := 0; i < len(recs) && !stop && err == nil; i++ {
				stop, err = f(&recs[i])
			}
		})
		return stop, err
	})
}

// passageExamples finds the first record in the order of the files that each
// passage rule set aside. The blocks of the passages' first records are known,
// so that only the files up to there are read again.
func (r *run) passageExamples(ctx context.Context, aside []passageAside) (map[rule.ID]int64, error) {
	first := map[rule.ID]int{}
	for _, x := range aside {
		if old, ok := first[x.rule]; !ok || x.block < old {
			first[x.rule] = x.block
		}
	}
	out := map[rule.ID]int64{}
	for id, b := range first {
		// It is in this block or, where there are more than cells can tell apart,
		// farther down.
		start, found := r.blocks[b], false
		for ; !found && start.file < len(r.files); start = (blockStart{file: start.file + 1}) {
			err := r.reread(ctx, start, r.judge.newReader(), func(rec *record) (bool, error) {
				if found = rec.rule == id; found {
					out[id] = pos(start.file, rec.line)
				}
				return found, nil
			})
			if err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}
