// Package season replays a season: what would have been said on each day while
// it still ran, from what was known then.
//
// Begin with [Replay]; ExampleReplay shows it, ExampleDays the days to ask of.
// Shares are from 0 to 1.
package season

import (
	"context"
	"fmt"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/cores"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Day is what could be said at one time.
type Day struct {
	AsOf time.Time // data before this moment count
	// Released is the number of fish released before then, Seen that of
	// sightings at sites.
	Released, Seen int
	// Running is the fit with times, Plain the one that takes every fish not
	// seen again for dead or missed; nil where Err says why there is none.
	Running, Plain *cjs.Fit
	// Final is what it came to: the fish released by then, fitted with all
	// that is known in the end; nil where Err or NoFinal says why.
	Final        *cjs.Fit
	Err, NoFinal error
}

// Replay fits spec as it would have been on each of the days; in is what is
// known in the end. A day on which
// no fit was possible has an error of its own; the error returned is ctx's, or
// that of histories without times. done is called after each day and may be nil.
func Replay(ctx context.Context, in model.Input, spec model.Spec, days []time.Time, opt cjs.Options, done func(n, of int)) ([]Day, error) {
	if err := in.Check(); err != nil {
		return nil, err
	}
	if err := opt.Check(); err != nil {
		return nil, err
	}
	if in.Histories.First == nil || in.Histories.Released == nil {
		return nil, fmt.Errorf("a season can be replayed only from times of releases and sightings, which these histories do not have")
	}
	out := make([]Day, len(days))
	finished := cores.Counter(len(days), done)
	cores.Each(ctx, len(days), func() func(int) {
		return func(i int) {
			out[i] = one(ctx, in, spec, days[i], opt)
			finished()
		}
	})
	return out, ctx.Err()
}

// one is the day at asOf.
func one(ctx context.Context, in model.Input, spec model.Spec, asOf time.Time, opt cjs.Options) Day {
	d := Day{AsOf: asOf}
	end := in
	in.Histories = Known(end.Histories, asOf)
	h := in.Histories
	masks := h.River.SiteMasks()
	for i := range h.Len() {
		d.Released += h.Weight(i)
		for _, m := range masks {
			if h.Seen[i]&m != 0 {
				d.Seen += h.Weight(i)
			}
		}
	}
	if d.Released == 0 || d.Seen == 0 {
		d.Err = fmt.Errorf("%d fish released and %d detections by then: nothing to estimate from", d.Released, d.Seen)
		return d
	}
	in.AsOf = asOf
	fit := func(in model.Input) (*cjs.Fit, error) {
		p, err := model.Build(in, spec)
		if err != nil {
			return nil, err
		}
		return cjs.New(ctx, p, opt)
	}
	if d.Running, d.Err = fit(in); d.Err != nil {
		return d
	}
	if d.Plain, d.Err = fit(in.SeasonOver(spec)); d.Err != nil {
		return d
	}
	final := in.For([]model.Spec{spec})
	final.Histories, final.AsOf = ReleasedBy(end.Histories, asOf), end.AsOf
	d.Final, d.NoFinal = fit(final)
	return d
}

// Known is what was known at time asOf: the fish released and the sightings
// made before it; nil where the histories have no times.
func Known(h *history.Histories, asOf time.Time) *history.Histories {
	if h == nil {
		return nil
	}
	return ReleasedBy(h.Until(asOf.UnixMilli()), asOf)
}

// ReleasedBy are the fish released before time asOf; nil of nil.
func ReleasedBy(h *history.Histories, asOf time.Time) *history.Histories {
	if h == nil {
		return nil
	}
	ms := asOf.UnixMilli()
	keep := make([]int, 0, h.Len())
	for i, t := range h.Released {
		if t != history.NoTime && t < ms {
			keep = append(keep, i)
		}
	}
	if len(keep) == h.Len() {
		return h
	}
	return h.Pick(keep)
}

// mostDays are those of two centuries: no season is longer.
const mostDays = 73_050

// Days are the ends of every n-th day in loc, counted from the day of the first
// release, up to the first by whose end all was known; none where n is below 1, or
// the times lie centuries apart.
func Days(h *history.Histories, n int, loc *time.Location) []time.Time {
	if h == nil {
		return nil
	}
	if loc == nil {
		loc = time.UTC
	}
	first, last := int64(history.NoTime), int64(history.NoTime)
	for _, t := range h.Released {
		if t != history.NoTime && (first == history.NoTime || t < first) {
			first = t
		}
		last = max(last, t)
	}
	for _, t := range h.Last {
		last = max(last, t)
	}
	if days := float64(last-first) / (24 * 3600 * 1000); first == history.NoTime || n < 1 || n > mostDays || !(days >= 0 && days <= mostDays) {
		return nil
	}
	y, m, d := time.UnixMilli(first).In(loc).Date()
	var out []time.Time
	for {
		d += n
		t := history.DayStart(y, m, d, loc)
		out = append(out, t)
		if t.UnixMilli() > last {
			return out
		}
	}
}
