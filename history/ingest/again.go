package ingest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/bits"
	"strings"

	"example.org/unseen/history/rule"
	"example.org/unseen/history/tagcode"
)

func popcount(x uint64) int { return bits.OnesCount64(x) }

// reread reads a file once more, in order, and gives each record from about a
// block's start on as finally judged, with its line. It stops where f says so or
// fails.
func (r *run) reread(ctx context.Context, from blockStart, c *cases, f func(line int, rec *record) (stop bool, err error)) error {
	i := from.file
	if strings.HasSuffix(strings.ToLower(r.files[i].path), ".xlsx") {
		return r.rereadSheet(ctx, i, c, f)
	}
	s, err := openSource(r.files[i].path, false)
	if err != nil {
		return err
	}
	defer s.shut()
	b := newBlocks(s)
	var buf []byte
	headed, stop := false, false
	if from.at > 0 && s.seek(from.at) {
		b.line, headed = from.line, true
	}
	for !stop {
		data, line, tooLong, err := b.next(ctx, buf)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		buf = data
		if !headed {
			head, rest, lines := header(data)
			if head == nil {
				continue
			}
			headed = true
			data, line = rest, line+lines
		}
		if b.line <= from.line {
			continue // the next block is not yet too far
		}
		c.eachBatch(&block{data: data, line: line, file: i, tooLong: tooLong, layout: r.layouts[i]}, func(recs []record) {
			for n := 0; n < len(recs) && !stop && err == nil; n++ {
				stop, err = f(recs[n].line, &recs[n])
			}
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// rereadSheet is reread for a workbook.
func (r *run) rereadSheet(ctx context.Context, i int, c *cases, f func(line int, rec *record) (bool, error)) error {
	blocks, _, err := r.sheetBlocks(ctx, i)
	if err != nil {
		return err
	}
	stop := false
	for k := 0; k < len(blocks) && !stop && err == nil; k++ {
		blocks[k].layout = r.layouts[i]
		c.eachBatch(&blocks[k], func(recs []record) {
			for n := 0; n < len(recs) && !stop && err == nil; n++ {
				stop, err = f(recs[n].line, &recs[n])
			}
		})
	}
	return err
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
		start := r.blocks[b]
		err := r.reread(ctx, start, r.judge.newCases(), func(line int, rec *record) (bool, error) {
			if rec.rule != id {
				return false, nil
			}
			out[id] = pos(start.file, line)
			return true, nil
		})
		if err != nil {
			return nil, err
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
