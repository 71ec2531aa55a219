package ingest

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// ReadRecaptures reads the table of [recaptures]: one record a capture, with
// columns tag, date, a length (fork_length_mm, total_length_mm or length_mm)
// or weight_g or both, and perhaps site. h are the fish of the study. A date
// without a time of day counts as noon. All faults of the table are returned
// together, as *[history.Faults].
func ReadRecaptures(ctx context.Context, st *study.Study, h *history.Histories) (*growth.Recaptures, []history.Input, error) {
	if err := st.Check(); err != nil {
		return nil, nil, err
	}
	if st.Recaptures == nil {
		return nil, nil, errors.New("the study has no [recaptures]")
	}
	if h == nil || h.Tag == nil {
		return nil, nil, errors.New("recaptures need to know which fish is which: give the histories a column \"fish\", or the study [fish] with [sightings]")
	}
	t, err := table.OpenFor(ctx, st.Recaptures)
	if err != nil {
		return nil, nil, err
	}
	defer t.Close()
	r, err := readRecaptures(st, h, t)
	if err != nil {
		return nil, nil, err
	}
	return r, []history.Input{t.Input()}, nil
}

func readRecaptures(st *study.Study, h *history.Histories, t *table.Table) (*growth.Recaptures, error) {
	m := table.MapColumns(t, st.Recaptures)
	t.FindNear(st.Recaptures, append([]string{"tag", "date", "site", growth.Weight}, growth.Lengths...))
	r := &growth.Recaptures{Findings: t.Findings}
	tag, date, site := m.Find("tag", true), m.Find("date", true), m.Find("site", false)
	length := -1
	for _, name := range growth.Lengths {
		k := m.Find(name, false)
		switch {
		case k < 0:
		case length >= 0:
			m.Faults.Add(t.Pos(), "the table has %s and %s; name the one to use, and call the other something else in columns", r.Length, name)
		default:
			length, r.Length = k, name
		}
	}
	weight := m.Find(growth.Weight, false)
	if length < 0 && weight < 0 {
		m.Faults.Add(t.Pos(), "no column with a length (%s) or %s%s; the table has %s", strings.Join(growth.Lengths, ", "), growth.Weight, nearMeasure(m.Unused()), strings.Join(t.Columns(), ", "))
	}
	if err := m.Faults.Err(); err != nil {
		return nil, err
	}

	find, err := fishByTag(st, h)
	if err != nil {
		return nil, err
	}
	dates, err := table.NewTimes(st, true)
	if err != nil {
		return nil, err
	}
	for t.Next() {
		c := growth.Capture{Fish: -1, Line: t.Line(), LengthMM: positive(t, length), WeightG: positive(t, weight)}
		if t.Missing(tag) {
			t.Fault(tag, "the tag is missing")
		} else if c.Fish, err = find(t.Field(tag)); err != nil {
			t.Fault(tag, "%q: %v", t.Field(tag), err)
		}
		if site >= 0 && !t.Missing(site) {
			c.Place = strings.Clone(t.Field(site))
		}
		if t.Missing(date) {
			t.Fault(date, "the date is missing")
		}
		dates.Add(t, date)
		r.Captures = append(r.Captures, c)
	}
	times := dates.Noons(t, date)
	if err := t.Err(); err != nil {
		return nil, err
	}
	if len(r.Captures) == 0 {
		return nil, fmt.Errorf("%s: the table has a header but no record", t.File)
	}
	for i := range r.Captures {
		r.Captures[i].Time = times[i]
	}
	accountRecaptures(r, t.File, rule.SeasonOf(st, time.Time{}))
	return r, nil
}

// nearMeasure proposes the column that may be a length or weight.
func nearMeasure(names []string) string {
	for _, ours := range append([]string{growth.Weight}, growth.Lengths...) {
		if p := history.Propose(ours, names); p != "" {
			return p
		}
	}
	return ""
}

// fishByTag finds the record of a tag: -1 where it is of no fish in h. Second
// tags stand for the first.
func fishByTag(st *study.Study, h *history.Histories) (func(tag string) (int32, error), error) {
	form := tagindex.Form{Text: st.TagForm == "text" || st.Histories != nil}
	index := make(map[string]int32, h.Len())
	for i, tag := range h.Tag {
		index[tag] = int32(i)
	}
	if st.Fish != nil {
		for _, second := range slices.Sorted(maps.Keys(st.Fish.Aliases)) {
			a, _, err := form.Canonical(second)
			if err != nil {
				return nil, err
			}
			b, _, err := form.Canonical(st.Fish.Aliases[second])
			if err != nil {
				return nil, err
			}
			if i, ok := index[b]; ok {
				index[a] = i
			}
		}
	}
	return func(tag string) (int32, error) {
		c, _, err := form.Canonical(tag)
		if err != nil {
			return -1, err
		}
		if i, ok := index[c]; ok {
			return i, nil
		}
		return -1, nil
	}, nil
}

// positive is a measurement above 0; NaN where the column or the value is
// missing.
func positive(t *table.Table, column int) float64 {
	if column < 0 || t.Missing(column) {
		return math.NaN()
	}
	v, ok := t.Number(column)
	if ok && v <= 0 {
		t.Fault(column, "%q: a length or weight is above 0; leave the field empty where it was not measured", t.Field(column))
	}
	return v
}

// accountRecaptures leaves the captures that count, and puts the others into
// their boxes.
func accountRecaptures(r *growth.Recaptures, file string, season rule.Season) {
	boxes := []history.Box{}
	for _, id := range []rule.ID{rule.UnknownTag, rule.AfterAsOf, rule.AfterLastDay} {
		boxes = append(boxes, history.Box{Rule: rule.Of(id).ID, Name: rule.Of(id).Name})
	}
	boxes = append(boxes, history.Box{Rule: "not_measured", Name: "neither length nor weight"})
	a := &r.Accounting
	seen := map[growth.Capture]bool{}
	fish := make([]map[int32]bool, len(boxes))
	kept := r.Captures[:0]
	for _, c := range r.Captures {
		a.Read++
		box := -1
		switch {
		case c.Fish < 0:
			box = 0
		case c.Time >= season.AsOf:
			box = 1
		case c.Time >= season.LastDayEnd:
			box = 2
		case math.IsNaN(c.LengthMM) && math.IsNaN(c.WeightG):
			box = 3
		}
		if box >= 0 {
			b := &boxes[box]
			if b.Records++; b.Records == 1 {
				b.Example = history.Pos{File: file, Line: c.Line}.String()
				fish[box] = map[int32]bool{}
			}
			if c.Fish >= 0 {
				fish[box][c.Fish] = true
			}
			continue
		}
		key := c
		key.Line = 0
		for _, x := range []*float64{&key.LengthMM, &key.WeightG} {
			if math.IsNaN(*x) {
				*x = -1 // NaN is not even equal to itself
			}
		}
		if seen[key] {
			a.Repeats++
			continue
		}
		seen[key] = true
		a.Kept++
		kept = append(kept, c)
	}
	r.Captures = kept
	for i, b := range boxes {
		if b.Records > 0 {
			b.Fish = int64(len(fish[i]))
			a.SetAside = append(a.SetAside, b)
		}
	}
}
