package analysis

import (
	"context"
	"slices"

	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/travel"
)

// AskOthers fits the model again with other optimisers. What they hold against
// the fit stands before its own warnings. done is called after each run and
// may be nil.
func (f *Fitted) AskOthers(ctx context.Context, done func(n, of int)) error {
	r, err := opinion.Run(ctx, f.Fit, opinion.Options{Done: done})
	if err != nil {
		return err
	}
	f.Opinion = r
	f.Fit.Warnings = slices.Concat(r.Warnings, f.Fit.Warnings)
	return nil
}

// Replicate makes replicates from to to, counted from 1, and gives the fit its
// intervals by them.
// When ctx ends it returns the replicates that are finished with its error, and
// the fit stays as it was.
func (f *Fitted) Replicate(ctx context.Context, from, to int, opt replicate.Options) (*replicate.Set, error) {
	s, err := replicate.Run(ctx, f.Fit, from, to, opt)
	if err != nil {
		return s, err
	}
	f.Replicates = s.Within(from, to) // the file may have held more than was asked for
	f.Bootstrap, err = f.Replicates.Apply(f.Fit)
	return s, err
}

// Travel measures travel times and arrivals, corrected by the detection of the
// fit. opt chooses how; level, detection and as_of are the fit's.
func (f *Fitted) Travel(ctx context.Context, opt travel.Options) (*travel.Result, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	opt.Level, opt.Working = f.Fit.Options.Level, f.Fit.Working
	opt.Seen, opt.SeenKnown, opt.Unwatched = f.Fit.SeenAt(), f.Fit.SeenKnown, f.Fit.Unwatched
	// Fish that come after as_of or the last day have no travel time here.
	until := f.Study.AsOf
	if end := f.Study.LastDayEnd(); until.IsZero() || !end.IsZero() && end.Before(until) {
		until = end
	}
	if !until.IsZero() {
		opt.AsOf = until.UnixMilli()
	}
	return travel.New(ctx, f.Histories, opt)
}
