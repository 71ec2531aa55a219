// Package ingest turns a study's tables into detection histories. It calls the
// rooms that read them, one after the other, and puts together what they say.
//
// Begin with [Run]; ExampleRun shows it. Moments are Unix milliseconds; every
// record is counted in exactly one box of the accounting.
package ingest

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/findings"
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagindex"
)

// Options are the choices of a reading; the zero value is the default.
type Options struct {
	// AsOf takes the place of the study's as_of; zero means the study's.
	AsOf time.Time
	// Workers is the number of goroutines that read records; 0 means
	// GOMAXPROCS.
	Workers int
	// Progress is told from time to time, never twice at once, how much of the
	// array files is read; nil means nobody is.
	Progress func(bytesDone, bytesTotal, records int64)
	// Temp is the folder in which [Duplicates] makes its temporary files; "" means
	// that of the system.
	Temp string
	// First is of how many records of each array file the result tells how they
	// are understood, in a second reading of their starts.
	First int
	// SetAside is given every record that is set aside, in the order of the
	// files, in a second reading of them; nil means there is none. An error
	// ends the reading.
	SetAside func(sighting.SetAside) error
	// Judged is given every record as it is understood, likewise.
	Judged func(sighting.Judged) error
}

// Run reads a study's tables, whichever of the three kinds it has. The error
// is for the user; where several things are wrong it holds them all.
func Run(ctx context.Context, st *study.Study, opt Options) (*Result, error) {
	if err := st.Check(); err != nil {
		return nil, err
	}
	if st.Histories != nil || st.NextSeen != nil {
		h, from, err := ready.ReadContext(ctx, st)
		if err != nil {
			return nil, err
		}
		return &Result{Histories: h, Inputs: []history.Input{from.Input()}, Notes: from.Notes(), Findings: from.Findings}, nil
	}
	fish, how, err := readFish(ctx, st, opt)
	if err != nil {
		return nil, err
	}
	seen, err := sighting.Read(ctx, st, fish, how)
	if err != nil {
		return nil, err
	}
	if err := fish.EndHistories(st.Fish.File, how.Season); err != nil {
		return nil, err
	}
	res := &Result{
		Histories: fish.Histories, Flags: fish.Flags, Accounting: seen.Accounting, Inputs: seen.Inputs,
		Notes: append(fish.Notes, seen.Notes...), Sites: siteActivity(&fish.Histories.River, seen),
	}
	res.Findings, res.WorkingShare = findings.Find(st, how.Off, how.Season, fish, seen)
	if opt.First > 0 {
		if res.First, err = seen.First(ctx, opt.First); err != nil {
			return nil, err
		}
	}
	if opt.SetAside != nil {
		if err := seen.EachSetAside(ctx, opt.SetAside); err != nil {
			return nil, err
		}
	}
	if opt.Judged != nil {
		if err := seen.EachJudged(ctx, opt.Judged); err != nil {
			return nil, err
		}
	}
	return res, nil
}

// Duplicates counts the exact duplicates among a study's sightings.
func Duplicates(ctx context.Context, st *study.Study, opt Options) (*sighting.DuplicateCount, error) {
	if err := st.Check(); err != nil {
		return nil, err
	}
	if st.Sightings == nil {
		return nil, errors.New("the study has no [sightings] to look for duplicates in")
	}
	fish, how, err := readFish(ctx, st, opt)
	if err != nil {
		return nil, err
	}
	return sighting.Duplicates(ctx, st, fish, how)
}

// readFish reads the tagging table, and settles how the sightings are to be
// read.
func readFish(ctx context.Context, st *study.Study, opt Options) (*fishtable.Table, sighting.Options, error) {
	how := sighting.Options{
		Form: tagindex.Form{Text: st.TagForm == "text"}, Season: rule.SeasonOf(st, opt.AsOf),
		Workers: opt.Workers, Progress: opt.Progress, Temp: opt.Temp,
	}
	if how.Workers <= 0 {
		how.Workers = runtime.GOMAXPROCS(0)
	}
	if st.Fish == nil || st.Sightings == nil {
		return nil, how, errors.New("the study has no data: it needs [fish] and [sightings], or [histories], or [next_seen]")
	}
	var err error
	if how.Off, err = rule.NewOff(st.Rules.Off); err != nil {
		return nil, how, fmt.Errorf("%v: %w", st.Rules.OffPos, err)
	}
	fish, err := fishtable.Read(ctx, st, how.Season, how.Form, how.Workers)
	return fish, how, err
}
