// Package travel says how long tagged fish took: over each reach and the whole
// path, at each site, and on which dates they came by.
//
// Begin with [New]; ExampleNew shows it, ExampleLaw_Over what the law says of
// another distance. Times are in days, speeds in km/day.
package travel

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// Options of the travel times. The zero value is the documented default.
type Options struct {
	// Shares are the quantiles given; nil means 0.10, 0.25, 0.50, 0.75, 0.90.
	Shares []float64
	// FromLast measures from the last sighting above, not the first.
	FromLast bool
	// AsOf is the moment up to which data count, in Unix milliseconds: fish
	// still on their way then have no travel time yet. 0 means the season is
	// over.
	AsOf int64
	// Level of the intervals; 0 means 0.95.
	Level float64
	// Seen is the probability that the fish of record i was seen at a site
	// below its entry when it passed at a moment ([history.NoTime]: while all
	// rows work), as of [cjs.Fit.SeenAt]; nil: arrival dates are not corrected.
	Seen func(i, site int, ms int64) float64
	// SeenKnown tells whether that probability is determined at a site, as
	// [cjs.Fit.SeenKnown]; nil: at every site.
	SeenKnown func(site int) bool
	// Unwatched is what of a cohort passed a site below the first while no row
	// of it was at work, as [cjs.Fit.Unwatched]; nil: nothing did.
	Unwatched func(site, cohort int) cjs.Unwatched
	// Working are the rows that did not work all the time, as [cjs.Fit.Working];
	// they need Seen.
	Working []cjs.Working
}

// check refuses options out of their range.
func (o Options) check(sites int) error {
	if len(o.Working) > 0 && o.Seen == nil {
		return errors.New("rows that did not work all the time, and no fit that says how well they detect")
	}
	for _, w := range o.Working {
		if w.Site < 0 || w.Site >= sites {
			return fmt.Errorf("site %d did not work all the time; there are 0 to %d", w.Site, sites-1)
		}
	}
	for _, p := range o.Shares {
		if !(p >= 0 && p <= 1) {
			return fmt.Errorf("the share %v of the fish; a share lies between 0 and 1", p)
		}
	}
	return cjs.CheckLevel(o.Level)
}

func (o Options) filled() Options {
	if o.Shares == nil {
		o.Shares = []float64{0.10, 0.25, 0.50, 0.75, 0.90}
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	return o
}

// Result is the travel times of a study.
type Result struct {
	Options Options // with defaults filled in
	// Stretches are the reaches in downstream order, then, with more than one,
	// the whole path; for each all fish, then each cohort where there are
	// several.
	Stretches []Stretch
	// Stays are the times at each site where fish were detected.
	Stays []Stay
	// Arrivals are the dates, the releases at the first site among them.
	Arrivals []Arrival
	Warnings []cjs.Warning
}

// All stands for the fish of all cohorts.
const All = -1

// Stretch is the water from one site to another farther down.
type Stretch struct {
	From, To int // indices of the sites at its ends
	// Cohort is the index of the cohort, or All.
	Cohort int
	// Km is the distance; NaN when the study gives no km.
	Km float64
	// Days from release or first sighting at From to first sighting at To,
	// of fish seen at both; KmPerDay is Km over each fish's days.
	Days, KmPerDay history.Summary
	// NotTimed are fish seen at both without a time between: the release time
	// is not known, or the sighting below is not later than the one above.
	NotTimed int
	// Law is the first-passage law fitted to the days; nil with WhyNoLaw.
	Law      *Law
	WhyNoLaw string
}

// Stay is the time at a site: last sighting less first, in days, of all fish
// seen there. A fish read once stayed 0.
type Stay struct {
	Site, Cohort int             // indices of the site and the cohort; [All] for all cohorts
	Days         history.Summary // between first and last detection there
	// Once is the number of fish whose first and last sighting are the same.
	Once int
}

// Hidden: where the law puts this share of the journeys after the end of the data or
// into an outage, the days seen are not those of all fish.
const Hidden = 0.01

// FastKmPerDay: faster journeys downstream are pointed out (common practice).
const FastKmPerDay = 100

// Warning IDs.
const (
	WarnFast     = "travel-fast"
	WarnNotTimed = "travel-not-timed"
	WarnAsOf     = "travel-as-of"
	WarnEarly    = "travel-too-early"
	WarnNoFit    = "travel-law-not-converged"
	WarnLaw      = "travel-law-does-not-fit"
	WarnHidden   = "travel-outage"
	WarnOutage   = "travel-without-outages"
)

// WarningIDs are all IDs.
var WarningIDs = []string{WarnFast, WarnNotTimed, WarnAsOf, WarnEarly, WarnNoFit, WarnLaw, WarnHidden, WarnOutage}

// New measures the travel times of the fish in h. It returns an error when h
// has no sighting times, or when ctx ends.
func New(ctx context.Context, h *history.Histories, opt Options) (*Result, error) {
	if err := h.Check(); err != nil {
		return nil, err
	}
	if err := opt.check(len(h.River.Sites)); err != nil {
		return nil, err
	}
	if h.First == nil {
		return nil, errors.New("travel times need the time of every sighting: give the study [fish] and [sightings] instead of ready histories or counts")
	}
	if opt.AsOf != 0 && slices.ContainsFunc(h.Last, func(ms int64) bool { return ms >= opt.AsOf }) {
		return nil, errors.New("there are sightings at or after as_of; such must be set aside first (see Histories.Until)")
	}
	r := &Result{Options: opt.filled()}
	t := newTimes(h)
	last := len(h.River.Sites) - 1
	type span struct{ from, to int }
	var spans []span
	for k := range last {
		spans = append(spans, span{k, k + 1})
	}
	if last > 1 {
		spans = append(spans, span{0, last})
	}
	cohorts := []int{All}
	if len(h.Cohorts) > 1 {
		for c := range h.Cohorts {
			cohorts = append(cohorts, c)
		}
	}
	for _, s := range spans {
		for _, c := range cohorts {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			x, err := r.stretch(ctx, t, s.from, s.to, c)
			if err != nil {
				return nil, err
			}
			r.Stretches = append(r.Stretches, *x)
		}
	}
	for k := range last + 1 {
		for _, c := range cohorts {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			if s := r.stay(t, k, c); s != nil {
				r.Stays = append(r.Stays, *s)
			}
			if a := r.arrival(t, k, c); a != nil {
				r.Arrivals = append(r.Arrivals, *a)
			}
		}
	}
	r.warn(h)
	return r, nil
}

// times are each fish's first and last sighting at each site.
type times struct {
	h           *history.Histories
	first, last []int64 // [fish*sites + site]
	sites       int
}

func newTimes(h *history.Histories) *times {
	n, rows := len(h.River.Sites), h.River.Rows()
	t := &times{h: h, sites: n, first: make([]int64, h.Len()*n), last: make([]int64, h.Len()*n)}
	site := h.River.SiteOfRow()
	for i := range h.Len() {
		first, last := t.first[i*n:(i+1)*n], t.last[i*n:(i+1)*n]
		for k := range first {
			first[k], last[k] = history.NoTime, history.NoTime
		}
		for b, k := range site {
			if k <= int(h.Entry[i]) || h.Seen[i]>>uint(b)&1 == 0 {
				continue
			}
			if f := h.First[i*rows+b]; f != history.NoTime && (first[k] == history.NoTime || f < first[k]) {
				first[k] = f
			}
			last[k] = max(last[k], h.Last[i*rows+b])
		}
	}
	return t
}

// in tells whether fish i is of the cohort.
func (t *times) in(i, cohort int) bool { return cohort == All || int(t.h.Cohort[i]) == cohort }

// at tells whether fish i was released or seen at site k, and when it started
// from there; NoTime where that is not known.
func (t *times) at(i, k int, fromLast bool) (ms int64, there bool) {
	if int(t.h.Entry[i]) == k {
		if t.h.Released == nil {
			return history.NoTime, true
		}
		return t.h.Released[i], true
	}
	ms = t.first[i*t.sites+k]
	if ms != history.NoTime && fromLast {
		ms = t.last[i*t.sites+k]
	}
	return ms, ms != history.NoTime
}

const dayMs = 24 * 3600 * 1000

// stretch measures one stretch for one cohort.
func (r *Result) stretch(ctx context.Context, t *times, from, to, cohort int) (*Stretch, error) {
	s := &Stretch{From: from, To: to, Cohort: cohort, Km: math.Abs(t.h.River.Sites[to].Km - t.h.River.Sites[from].Km)}
	j, notTimed := r.journeys(t, from, to, cohort)
	days := j.days
	s.NotTimed = notTimed
	s.Days = history.Summarise(days, r.Options.Shares)
	speed := make([]float64, len(days))
	for i, d := range days {
		speed[i] = s.Km / d
	}
	s.KmPerDay = history.Summarise(speed, r.Options.Shares)
	var err error
	s.Law, s.WhyNoLaw, err = fitLaw(ctx, s.Km, j, r.Options)
	return s, err
}

// journeys are those of the fish of a cohort over a stretch.
func (r *Result) journeys(t *times, from, to, cohort int) (j *journeys, notTimed int) {
	j = &journeys{}
	stops, rows := r.stops(to), t.h.River.Sites[to].RowCount()
	windows := false
	for i := range t.h.Len() {
		if !t.in(i, cohort) {
			continue
		}
		end := t.first[i*t.sites+to]
		start, there := t.at(i, from, r.Options.FromLast)
		switch {
		case end == history.NoTime || !there:
		case start == history.NoTime || end <= start:
			notTimed++
		default:
			j.days = append(j.days, float64(end-start)/dayMs)
			left := math.Inf(1)
			if r.Options.AsOf != 0 {
				left = float64(r.Options.AsOf-start) / dayMs
			}
			parts, left := r.open(i, to, stops, rows, start, left)
			j.room, j.open = append(j.room, left), append(j.open, parts)
			windows = windows || parts != nil
		}
	}
	if !windows {
		j.open = nil
	}
	return j, notTimed
}

// Days are the days each fish of h, from which r was made, took from one site
// to another: what [Stretch.Days] sums up.
func (r *Result) Days(h *history.Histories, from, to int) []float64 {
	j, _ := r.journeys(newTimes(h), from, to, All)
	return j.days
}

// stay measures the time at site k; nil where no fish was seen there.
func (r *Result) stay(t *times, k, cohort int) *Stay {
	s := &Stay{Site: k, Cohort: cohort}
	var days []float64
	for i := range t.h.Len() {
		first, last := t.first[i*t.sites+k], t.last[i*t.sites+k]
		if first == history.NoTime || !t.in(i, cohort) {
			continue
		}
		if last <= first {
			s.Once++
		}
		days = append(days, float64(max(0, last-first))/dayMs)
	}
	if len(days) == 0 {
		return nil
	}
	s.Days = history.Summarise(days, r.Options.Shares)
	return s
}
