package ingest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
)

// feed gives the blocks of the files, one after the other, to the workers that
// ask. A worker reads its block itself while the others are busy with theirs:
// what it read is then near the processor that needs it.
type feed struct {
	mu  sync.Mutex
	run *run
	err error // of the reading; nothing is given after one

	file   int     // the one being read
	source *source // nil between files, and in a workbook
	blocks *blocks
	at     int64   // where in the text the last block started
	empty  bool    // no record of the file was met yet
	held   []block // of a workbook

	// done is the bytes of the files before this one, total of all.
	done, total, records int64
}

func newFeed(r *run) *feed {
	f := &feed{run: r}
	for _, file := range r.files {
		f.total += file.size
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
		if f.err = ctx.Err(); f.err == nil {
			ok, f.err = f.step(ctx, b)
		}
		if ok {
			b.number = len(f.run.blocks)
			f.run.blocks = append(f.run.blocks, blockStart{b.file, b.line, f.at})
			return true
		}
	}
	return false
}

// step goes on in the file; ok tells whether it came upon a block.
func (f *feed) step(ctx context.Context, b *block) (ok bool, err error) {
	file := &f.run.files[f.file]
	switch {
	case f.held != nil:
		if len(f.held) == 0 {
			f.held = nil
			f.end()
			return false, nil
		}
		*b, f.held, f.at = f.held[0], f.held[1:], 0
		return true, nil
	case f.source != nil:
		return f.text(ctx, b)
	case isWorkbook(file.path):
		f.held, err = f.run.sheet(ctx, f.file)
		return false, err
	}
	if f.source, err = openSource(ctx, file.path, true); err != nil {
		return false, err
	}
	if f.source.unsummed {
		f.run.unsummed = append(f.run.unsummed, file.name)
	}
	f.blocks, f.empty = newBlocks(f.source), true
	return false, nil
}

// text gives the next block of a text.
func (f *feed) text(ctx context.Context, b *block) (ok bool, err error) {
	r, name := f.run, f.run.files[f.file].name
	data, line, tooLong, err := f.blocks.next(ctx, b.data)
	if errors.Is(err, io.EOF) {
		return false, f.endText(name)
	}
	if err != nil {
		return false, err
	}
	if r.layouts[f.file] == nil {
		if tooLong {
			return false, fmt.Errorf("%s: the first line is longer than 1 MiB; it must name the columns", name)
		}
		l, rest, lines, err := r.settle(ctx, f.file, data, line)
		if err != nil {
			return false, fmt.Errorf("%s: %w", name, err)
		}
		if l == nil {
			return false, nil // blank lines only
		}
		data, line = rest, line+lines
		r.layouts[f.file] = l
	}
	f.empty = f.empty && len(data) == 0 && !tooLong
	*b = block{data: data, line: line, file: f.file, tooLong: tooLong, layout: r.layouts[f.file]}
	f.at = f.blocks.start
	f.tell(f.source.taken)
	return true, nil
}

// endText ends a text that was read to its end.
func (f *feed) endText(name string) error {
	r := f.run
	if r.layouts[f.file] == nil {
		return fmt.Errorf("%s: the file is empty; its first line must name the columns", name)
	}
	if f.empty {
		r.notes = append(r.notes, name+": a header, but no record")
	}
	if err := f.source.finish(); err != nil {
		return err
	}
	r.sums[f.file] = f.source.sha256()
	f.shut()
	f.end()
	return nil
}

// end goes on to the next file.
func (f *feed) end() {
	f.done += f.run.files[f.file].size
	f.file++
	f.tell(0)
}

func (f *feed) tell(taken int64) {
	if f.run.opt.Progress != nil {
		f.run.opt.Progress(f.done+taken, f.total, f.records)
	}
}

// shut closes the file that is open.
func (f *feed) shut() {
	if f.source != nil {
		f.source.shut()
		f.source = nil
	}
}
