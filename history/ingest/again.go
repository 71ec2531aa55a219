package ingest

import (
	"context"
	"fmt"
	"strings"

	"example.org/unseen/history/rule"
	"example.org/unseen/history/tagcode"
)

// reread reads a file once more, in order, and gives each record from about a
// block's start on as finally judged, with its line. It stops where f says so or
// fails.
func (r *run) reread(ctx context.Context, from blockStart, c *cases, f func(line int, rec *record) (stop bool, err error)) error {
	i := from.file
	if isWorkbook(r.files[i].path) {
		return r.rereadSheet(ctx, i, c, f)
	}
	s, err := openSource(ctx, r.files[i].path, false)
	if err != nil {
		return err
	}
	defer s.shut()
	b := newBlocks(s)
	headed := from.at > 0 && s.seek(from.at)
	if headed {
		b.line = from.line
	}
	return b.each(ctx, func(data []byte, line int, tooLong bool) (bool, error) {
		if !headed {
			head, rest, lines := header(data)
			if head == nil {
				return false, nil
			}
			headed = true
			data, line = rest, line+lines
		}
		if b.line <= from.line {
			return false, nil // the next block is not yet too far
		}
		return c.each(&block{data: data, line: line, file: i, tooLong: tooLong, layout: r.layouts[i]}, f)
	})
}

// each gives the records of a block one by one, until f says stop or fails.
func (c *cases) each(b *block, f func(line int, rec *record) (bool, error)) (stop bool, err error) {
	c.eachBatch(b, func(recs []record) {
		for i := 0; i < len(recs) && !stop && err == nil; i++ {
			stop, err = f(recs[i].line, &recs[i])
		}
	})
	return stop, err
}

// rereadSheet is reread for a workbook.
func (r *run) rereadSheet(ctx context.Context, i int, c *cases, f func(line int, rec *record) (bool, error)) error {
	blocks, _, err := r.sheetBlocks(ctx, i)
	if err != nil {
		return err
	}
	for k := range blocks {
		blocks[k].layout = r.layouts[i]
		if stop, err := c.each(&blocks[k], f); stop || err != nil {
			return err
		}
	}
	return nil
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
			err := r.reread(ctx, start, r.judge.newCases(), func(line int, rec *record) (bool, error) {
				if found = rec.rule == id; found {
					out[id] = pos(start.file, line)
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

// setAside gives every record that was set aside to the caller.
func (r *run) setAside(ctx context.Context) error {
	c := r.judge.newCases()
	for i := range r.files {
		err := r.reread(ctx, blockStart{file: i}, c, func(line int, rec *record) (bool, error) {
			if rec.rule == rule.None {
				return false, nil
			}
			return false, r.opt.SetAside(SetAside{
				File: r.files[i].name, Line: line, Rule: rule.Of(rec.rule).ID, Name: rule.Of(rec.rule).Name,
				Tag: text(c.field(rec.tag)), Site: text(c.field(rec.site)), Antenna: text(c.field(rec.antenna)), Time: text(c.time(rec, r.layouts[i])),
				Reason: r.reason(rec, c.field(rec.tag), i),
			})
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func text(b []byte) string { return strings.ToValidUTF8(string(trimmed(b)), "�") }

// reason says more about a record than its rule does.
func (r *run) reason(rec *record, tag []byte, file int) string {
	switch rec.rule {
	case rule.BadTime:
		return rec.fault.String()
	case rule.BadTag:
		if r.judge.tags.text {
			return "empty"
		}
		var err error
		if r.layouts[file].reversed {
			_, err = tagcode.Reversed(string(tag))
		} else {
			_, err = tagcode.Parse(string(tag))
		}
		return fmt.Sprint(err)
	}
	return ""
}
