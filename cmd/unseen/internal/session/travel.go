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
	if !d.Study.AsOf.IsZero() {
		opt.AsOf = d.Study.AsOf.UnixMilli()
	}
	return travel.New(ctx, d.Histories, opt)
}
