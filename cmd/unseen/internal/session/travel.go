package session

import (
	"context"

	"example.org/unseen/cjs/travel"
)

// Travel measures travel times and arrivals, corrected by the detection of the
// fit. opt gives what the line chooses; the rest is the study's.
func (d *Fitted) Travel(ctx context.Context, opt travel.Options) (*travel.Result, error) {
	opt.Level = d.Fit.Options.Level
	opt.Seen, opt.SeenKnown = d.Fit.SeenAt(), d.Fit.SeenKnown
	// Fish that come after as_of or the last day have no travel time here.
	until := d.Study.AsOf
	if end := d.Study.LastDayEnd(); until.IsZero() || !end.IsZero() && end.Before(until) {
		until = end
	}
	if !until.IsZero() {
		opt.AsOf = until.UnixMilli()
	}
	return travel.New(ctx, d.Histories, opt)
}
