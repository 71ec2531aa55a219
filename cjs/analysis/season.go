package analysis

import (
	"context"
	"slices"
	"time"

	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/season"
)

// Season is a study replayed day by day.
type Season struct {
	*Data
	Spec  model.Spec   // the model fitted on each day
	Level float64      // of the intervals
	Days  []season.Day // in order
}

// ReplayDays are the ends of every n-th day of the season, in the study's
// zone; none after as_of, which is itself the only one where it comes before all.
func (d *Data) ReplayDays(n int) []time.Time {
	if d.Check() != nil {
		return nil
	}
	days := season.Days(d.Histories, n, d.Study.Location)
	if d.Running() && len(days) > 0 {
		if days = slices.DeleteFunc(days, d.Study.AsOf.Before); len(days) == 0 {
			days = []time.Time{d.Study.AsOf}
		}
	}
	return days
}

// Season says what would have been said on each of the days. done is called
// after each and may be nil.
func (d *Data) Season(ctx context.Context, spec model.Spec, options Options, days []time.Time, done func(n, of int)) (*Season, error) {
	in, err := d.Input()
	if err != nil {
		return nil, err
	}
	// What the model needs of the study is missing on every day alike.
	late := in
	if late.AsOf.IsZero() {
		late.AsOf = time.UnixMilli(d.lastMoment() + 1)
	}
	p, err := model.Build(late, spec)
	if err != nil {
		return nil, err
	}
	opt, err := d.complete(options, assess.OfModel(p))
	if err != nil {
		return nil, err
	}
	if len(days) == 0 {
		return nil, &Error{ID: NoDay}
	}
	s := &Season{Data: d, Spec: p.Spec, Level: opt.Level}
	if s.Days, err = season.Replay(ctx, in, spec, days, opt, done); err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(s.Days, func(x season.Day) bool { return x.Err == nil }) {
		last := s.Days[len(s.Days)-1]
		return nil, &Error{ID: NothingYet, Name: d.Source().UpTo(last.AsOf, "2 January 2006", "2 January 2006 15:04 MST"), Cause: last.Err}
	}
	return s, nil
}

// lastMoment is the time of the last release or sighting.
func (d *Data) lastMoment() int64 {
	return max(slices.Max(append([]int64{0}, d.Histories.Released...)), slices.Max(append([]int64{0}, d.Histories.Last...)))
}
