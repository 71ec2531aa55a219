package sighting

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"example.org/unseen/history/rule"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// SetAside is a record that a rule set aside.
type SetAside struct {
	File string
	Line int
	// Rule is the rule's ID and Name its name.
	Rule, Name string
	// Tag, Site, Antenna and Time are as written; "" for an unreadable record.
	Tag, Site, Antenna, Time string
	// Reason says more where there is more to say, as why a time is none.
	Reason string
}

// reread reads a file once more, in order, and gives each record from about a
// block's start on as finally judged. It stops where f says so or fails.
func (r *run) reread(ctx context.Context, from blockStart, c *reader, f func(rec *record) (stop bool, err error)) error {
	b, err := table.OpenBlocks(r.files[from.file].Path, false)
	if err != nil {
		return err
	}
	defer b.Close()
	if _, err := b.Header(ctx); err != nil {
		return err
	}
	b.GoTo(from.place, from.line)
	return b.Each(ctx, func(x table.Block) (stop bool, err error) {
		if b.Line() <= from.line {
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

// EachSetAside gives every record that was set aside, in the order of the files,
// in a second reading of them. An error of f ends it.
func (res *Result) EachSetAside(ctx context.Context, f func(SetAside) error) error {
	r := res.run
	c := r.judge.newReader()
	for i := range r.files {
		err := r.reread(ctx, blockStart{file: i}, c, func(rec *record) (bool, error) {
			if rec.rule == rule.None {
				return false, nil
			}
			return false, f(SetAside{
				File: r.files[i].Name, Line: rec.line, Rule: rule.Of(rec.rule).ID, Name: rule.Of(rec.rule).Name,
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

func text(b []byte) string { return strings.ToValidUTF8(string(bytes.TrimSpace(b)), "�") }

// reason says more about a record than its rule does.
func (r *run) reason(rec *record, tag []byte, file int) string {
	switch {
	case rec.rule == rule.BadTime:
		return rec.fault.String()
	case rec.rule == rule.BadTag && r.opt.Form.Text:
		return "empty"
	case rec.rule == rule.BadTag:
		_, err := tagindex.ParseCode(string(tag), r.layouts[file].reversed)
		return fmt.Sprint(err)
	}
	return ""
}
