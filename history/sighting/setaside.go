package sighting

import (
	"bytes"
	"context"
	"fmt"
	"strings"

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
