// Package analysis takes a study from its file to its fitted answer: the way
// that a program, a notebook and a command all go.
//
// [Open] reads a study and its tables. [Data.Fit] fits a model, [Data.Compare]
// several; [Fitted.Travel], [Fitted.AskWhatIf], [Fitted.AskOthers] and
// [Fitted.Replicate] ask more of a fit, [Data.Season] replays a season,
// [OpenPlan] and [Fitted.Plan] look ahead to one, [Data.Simulation] tries the
// method on data with a known truth.
//
// Nothing here prints. What is refused is an [*Error] with an ID and facts, or
// an error of the files that were read.
//
// Begin with [Open] and [Data.Fit]; Example goes from a study file to the share
// that passed. Probabilities and shares are from 0 to 1.
package analysis

import (
	"context"
	"errors"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/growth"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// Data is a study with its tables read.
type Data struct {
	Study *study.Study // the study file
	*ingest.Result
	// Conditions are those of sites on days; nil where the study has none.
	Conditions *history.Conditions
	caught     *growth.Recaptures // once read
}

// Check refuses what [Open] and [Read] did not give.
func (d *Data) Check() error {
	if d == nil || d.Study == nil || d.Result == nil || d.Histories == nil {
		return errors.New("no study was read; Open and Read read one")
	}
	return nil
}

// Open reads the study file at path and its tables.
func Open(ctx context.Context, path string, opt ingest.Options) (*Data, error) {
	st, err := study.Load(path)
	if err != nil {
		return nil, err
	}
	return Read(ctx, st, opt)
}

// Read reads the tables of a study, whose inputs the study file begins.
func Read(ctx context.Context, st *study.Study, opt ingest.Options) (*Data, error) {
	if err := st.Check(); err != nil {
		return nil, err
	}
	if !opt.AsOf.IsZero() {
		at := *st
		at.AsOf = opt.AsOf
		st = &at
	}
	r, err := ingest.Run(ctx, st, opt)
	if err != nil {
		return nil, err
	}
	r.Inputs = slices.Insert(r.Inputs, 0, history.Input{File: filepath.Base(st.Path), SHA256: st.SHA256})
	d := &Data{Study: st, Result: r}
	if st.Conditions != nil {
		var inputs []history.Input
		if d.Conditions, inputs, err = ingest.ReadConditions(ctx, st); err != nil {
			return nil, err
		}
		r.Inputs = append(r.Inputs, inputs...)
	}
	if err := d.checkUnits(); err != nil {
		return nil, err
	}
	return d, ctx.Err()
}

// checkUnits refuses units of what is no number of the study.
func (d *Data) checkUnits() error {
	var known []string
	for _, c := range d.Histories.Columns {
		if !c.IsCategory() {
			known = append(known, c.Name)
		}
	}
	for _, s := range d.Histories.River.Sites {
		known = append(known, slices.Collect(maps.Keys(s.Attributes))...)
	}
	if d.Conditions != nil {
		known = append(known, d.Conditions.Names...)
	}
	slices.Sort(known)
	known = slices.Compact(known)
	var faults history.Faults
	for name, pos := range d.Study.UnitsPos {
		if !slices.Contains(known, name) {
			there := "; there are none"
			if len(known) > 0 {
				there = "; there are: " + strings.Join(known, ", ")
			}
			if near := history.Propose(name, known); near != "" {
				there = near
			}
			faults.Add(pos, "units names %q, which is no number of the fish, the sites or the conditions%s", name, there)
		}
	}
	return faults.Err()
}

// HasSightings tells a study of sightings, whose records are accounted for,
// from one of ready histories.
func (d *Data) HasSightings() bool { return d.Check() == nil && d.Study.Sightings != nil }

// Source says where answers from the study come from.
func (d *Data) Source() Source {
	if d.Check() != nil {
		return Source{}
	}
	st := d.Study
	return Source{Path: st.Path, StudyFile: st, Title: st.Title, AsOf: st.AsOf, Running: d.Running(), Location: st.Location, Inputs: d.Inputs}
}

// Through is the time of the last sighting that counts; zero when the study
// has no times.
func (d *Data) Through() time.Time {
	if d.Check() != nil {
		return time.Time{}
	}
	last := int64(history.NoTime)
	for _, t := range d.Histories.Last {
		last = max(last, t)
	}
	return d.moment(last)
}

// moment is a moment in the study's zone; zero where there is none.
func (d *Data) moment(ms int64) time.Time {
	switch {
	case ms == history.NoTime:
		return time.Time{}
	case d.Study.Location == nil:
		return time.UnixMilli(ms).UTC()
	}
	return time.UnixMilli(ms).In(d.Study.Location)
}

// LastRecord is the time of the last record of any tag; zero when the study has
// none.
func (d *Data) LastRecord() time.Time {
	if d.Check() != nil {
		return time.Time{}
	}
	last := int64(history.NoTime)
	for _, s := range d.Sites {
		last = max(last, s.Last)
	}
	return d.moment(last)
}

// Running tells whether the season still runs: the study has an as_of, before
// the end of its last_day where it has one.
func (d *Data) Running() bool {
	if d.Check() != nil {
		return false
	}
	st := d.Study
	return !st.AsOf.IsZero() && (st.LastDay.IsZero() || st.AsOf.Before(st.LastDayEnd()))
}

// Timed tells whether times of passage can be part of the likelihood: the season
// still runs, or sites have working windows.
func (d *Data) Timed() bool { return d.Running() || d.Check() == nil && d.hasWindows() }

func (d *Data) hasWindows() bool {
	for i := range d.Study.Sites {
		if d.Study.Sites[i].HasWindows() {
			return true
		}
	}
	return false
}

// Input is what models are fitted to; while the season runs, times too.
func (d *Data) Input() (model.Input, error) {
	if err := d.Check(); err != nil {
		return model.Input{}, err
	}
	in, err := model.FromStudy(d.Study, d.Histories, d.WorkingShare, d.Conditions)
	if d.Running() {
		in.AsOf = d.Study.AsOf
	}
	return in, err
}

// Growth reads the recaptures, nil where the study has none, and works out
// growth. The files of recaptures are inputs of the study from then on.
func (d *Data) Growth(ctx context.Context, opt growth.Options) (*growth.Result, *growth.Recaptures, error) {
	if err := d.Check(); err != nil {
		return nil, nil, err
	}
	if d.Study.Recaptures == nil {
		r, err := growth.New(d.Histories, nil, opt)
		return r, nil, err
	}
	if d.caught == nil {
		caught, inputs, err := ingest.ReadRecaptures(ctx, d.Study, d.Histories)
		if err != nil {
			return nil, nil, err
		}
		d.caught, d.Inputs = caught, append(d.Inputs, inputs...)
	}
	r, err := growth.New(d.Histories, d.caught, opt)
	return r, d.caught, err
}
