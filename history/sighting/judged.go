package sighting

import (
	"context"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
)

// Judged is a record as it is understood.
type Judged struct {
	File string // path of the file
	Line int    // counted from 1
	// Tag is in the form tags are shown in; as written where it is none.
	Tag string
	// Place is the site of the study, or its row; as written where it is none.
	Place string
	// Ms is the corrected time in Unix milliseconds, [history.NoTime] where the
	// record has none; Time is it as written.
	Ms   int64
	Time string
	// Rule is the ID of the rule that sets the record aside, Name its name; ""
	// where it counts.
	Rule, Name string
}

// First gives the first n records of each file as they are understood, in
// another reading of the files' starts.
func (res *Result) First(ctx context.Context, n int) ([]Judged, error) {
	if err := res.Check(); err != nil {
		return nil, err
	}
	var out []Judged
	for i := range res.run.files {
		from := len(out)
		err := res.judge(ctx, i, func(x Judged) (bool, error) {
			out = append(out, x)
			return len(out)-from >= n, nil
		})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// EachJudged gives every record as it is understood, in the order of the files,
// in another reading of them. An error of f ends it.
func (res *Result) EachJudged(ctx context.Context, f func(Judged) error) error {
	if err := res.Check(); err != nil {
		return err
	}
	for i := range res.run.files {
		if err := res.judge(ctx, i, func(x Judged) (bool, error) { return false, f(x) }); err != nil {
			return err
		}
	}
	return nil
}

// judge gives the records of file i until f has enough.
func (res *Result) judge(ctx context.Context, i int, f func(Judged) (enough bool, err error)) error {
	r := res.run
	c := r.judge.newReader()
	return r.reread(ctx, blockStart{file: i}, c, func(rec *record) (bool, error) { return f(r.judged(c, rec, i)) })
}

// judged is a record of file i in words.
func (r *run) judged(c *reader, rec *record, i int) Judged {
	x := Judged{File: r.files[i].Name, Line: rec.line, Tag: text(c.field(rec.tag)), Place: r.placeName(c, rec), Ms: history.NoTime, Time: text(c.time(rec, r.layouts[i]))}
	if rec.rule == rule.Unreadable {
		x.Tag, x.Time = "", ""
	} else if rec.tagKey != 0 {
		x.Tag = r.opt.Form.Shown(rec.tagKey, x.Tag)
	}
	if rec.rule > rule.BadTime || rec.rule == rule.None {
		if rec.fault == clock.OK {
			x.Ms = rec.ms
		}
	}
	if rec.rule != rule.None {
		x.Rule, x.Name = rule.Of(rec.rule).ID, rule.Of(rec.rule).Name
	}
	return x
}

// placeName is where a record was made, in the study's words where it has any.
func (r *run) placeName(c *reader, rec *record) string {
	river := &c.fish.Histories.River
	switch {
	case rec.rule == rule.Unreadable:
		return ""
	case rec.place >= 0 && rec.rule != rule.BadTag:
		if p := c.places.list[rec.place]; p.Row >= 0 {
			return river.RowLabel(p.Row)
		}
		return river.Sites[0].Name
	}
	site, antenna := text(c.siteOf(rec)), text(c.antennaOf(rec))
	if site != "" && antenna != "" {
		return site + ", " + antenna
	}
	return site + antenna
}
