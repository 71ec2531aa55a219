package sighting

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"

	"example.org/unseen/history/table"
)

// feed gives the blocks of the files, one after the other, to the workers that
// ask. A worker reads its block itself while the others are busy with theirs:
// what it read is then near the processor that needs it.
type feed struct {
	mu  sync.Mutex
	run *run
	err error // of the reading; nothing is given after one

	file   int           // the one being read
	blocks *table.Blocks // nil between files
	empty  bool          // no record of the file was met yet

	// done is the bytes of the files before this one, total of all.
	done, total, records int64
}

func newFeed(r *run) *feed {
	f := &feed{run: r}
	for _, file := range r.files {
		f.total += file.Size
	}
	return f
}

// next puts the next block into b, whose memory is used again; false after the
// last one, or an error. records is how many there were in the block before.
func (f *feed) next(ctx context.Context, b *block, records int64) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.records += records
	for f.err == nil && f.file < len(f.run.files) {
		var ok bool
		if f.blocks == nil {
			f.err = f.open(ctx)
		} else if ok, f.err = f.step(ctx, b); ok {
			b.number = len(f.run.blocks)
			f.run.blocks = append(f.run.blocks, blockStart{b.file, b.Line, f.blocks.Place})
			return true
		}
	}
	return false
}

// open opens the next file and reads its header.
func (f *feed) open(ctx context.Context) (err error) {
	file := f.run.files[f.file]
	if f.blocks, err = table.OpenBlocks(ctx, file, true); err != nil {
		return err
	}
	f.empty = true
	l, err := newLayout(f.blocks.Names, f.blocks.Delimiter, f.run.st.Sightings[file.Group])
	if err != nil {
		return fmt.Errorf("%s: %w", file.Name, err)
	}
	l.source = f.run.sources[file.Group]
	f.run.layouts[f.file] = l
	f.run.lookAtFile(file, f.blocks)
	return nil
}

// step gives the next block of the file; ok is false at its end.
func (f *feed) step(ctx context.Context, b *block) (ok bool, err error) {
	r, l := f.run, f.run.layouts[f.file]
	x, err := f.blocks.Next(ctx, b.Data)
	if f.empty && (err == nil || errors.Is(err, io.EOF)) {
		if err := r.settleTimes(ctx, l, f.file, x); err != nil {
			return false, err
		}
	}
	if errors.Is(err, io.EOF) {
		return false, f.end()
	}
	if err != nil {
		return false, err
	}
	f.empty = false
	*b = block{Block: x, file: f.file, layout: l}
	f.tell(f.blocks.Taken())
	return true, nil
}

// end ends a file that was read to its end and goes on to the next.
func (f *feed) end() (err error) {
	file := f.run.files[f.file]
	if f.empty {
		f.run.notes = append(f.run.notes, file.Name+": a header, but no record")
	}
	if f.run.sums[f.file], err = f.blocks.Finish(); err != nil {
		return err
	}
	f.shut()
	f.done += file.Size
	f.file++
	f.tell(0)
	return nil
}

func (f *feed) tell(taken int64) {
	if f.run.opt.Progress != nil {
		f.run.opt.Progress(f.done+taken, f.total, f.records)
	}
}

// shut closes the file that is open.
func (f *feed) shut() {
	if f.blocks != nil {
		f.blocks.Close()
		f.blocks = nil
	}
}
