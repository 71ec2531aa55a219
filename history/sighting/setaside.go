package sighting

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/unseen/history/rule"
	"example.org/unseen/history/tagindex"
)

// SetAside is a record that a rule set aside.
type SetAside struct {
	File string // path of the file
	Line int    // counted from 1
	// Rule is the rule's ID and Name its name.
	Rule, Name string
	// Tag, Site, Antenna and Time are as written; "" for an unreadable record.
	Tag, Site, Antenna, Time string
	// Reason says more where there is more to say, as why a time is none.
	Reason string
}

// EachSetAside gives every record that was set aside, in the order of the files,
// in a second reading of them. An error of f ends it.
func (res *Result) EachSetAside(ctx context.Context, f func(SetAside) error) error {
	if err := res.Check(); err != nil {
		return err
	}
	r := res.run
	c := r.judge.newReader()
	for i := range r.files {
		err := r.reread(ctx, blockStart{file: i}, c, func(rec *record) (bool, error) {
			if rec.rule == rule.None {
				return false, nil
			}
			return false, f(SetAside{
				File: r.files[i].Name, Line: rec.line, Rule: rule.Of(rec.rule).ID, Name: rule.Of(rec.rule).Name,
				Tag: text(c.field(rec.tag)), Site: text(c.siteOf(rec)), Antenna: text(c.antennaOf(rec)), Time: text(c.time(rec, r.layouts[i])),
				Reason: r.reason(rec, c.field(rec.tag), i),
			})
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func text(b []byte) string { return strings.ToValidUTF8(string(bare(b)), "�") }

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

// UnknownTag is a tag that is no fish of the study.
type UnknownTag struct {
	Tag   string // in the form tags are shown in; "" where they are text
	Reads int64
	// Every is the time between its reads where it is read at the same times of
	// each day at one antenna, as tags that test readers are; else 0.
	Every time.Duration
}

// UnknownTags are the tags of the box unknown_tag, the most read first.
func (res *Result) UnknownTags() []UnknownTag {
	var out []UnknownTag
	if res.Check() != nil {
		return nil
	}
	for key, x := range res.run.total.unknown {
		if res.run.judge.testTags[key] {
			continue
		}
		t := UnknownTag{Reads: x.reads, Every: x.every()}
		if !res.run.opt.Form.Text {
			t.Tag = res.run.opt.Form.Shown(key, "")
		}
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b UnknownTag) int {
		return cmp.Or(cmp.Compare(b.Reads, a.Reads), cmp.Compare(a.Tag, b.Tag))
	})
	return out
}

// IsUnknown tells whether a cell is a tag of the box unknown_tag, and how often
// it was read.
func (res *Result) IsUnknown(cell string) (reads int64, ok bool) {
	if res.Check() != nil {
		return 0, false
	}
	key, err := res.run.opt.Form.KeyOf(cell)
	if err != nil || res.run.judge.testTags[key] {
		return 0, false
	}
	x := res.run.total.unknown[key]
	if x == nil {
		return 0, false
	}
	return x.reads, true
}
