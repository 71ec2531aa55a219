package travel

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

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

// Hidden: where the law puts this share of the journeys after the end of the data or
// into an outage, the days seen are not those of all fish.
const Hidden = 0.01

// FastKmPerDay: faster journeys downstream are pointed out (common practice).
const FastKmPerDay = 100

// WarningIDs are all IDs.
var WarningIDs = []string{WarnFast, WarnNotTimed, WarnAsOf, WarnEarly, WarnNoFit, WarnLaw, WarnHidden, WarnOutage}

// warn says what the reader of the tables must know.
func (r *Result) warn(h *history.Histories) {
	add := func(id, about, format string, args ...any) {
		r.Warnings = append(r.Warnings, cjs.Warning{ID: id, About: about, Message: history.Say(format, args...)})
	}
	name := func(k int) string { return h.River.Sites[k].Name }
	instead := "Use the observed quantiles there."
	if r.hidden() {
		// The observed quantiles are no remedy then.
		instead = "The observed quantiles are of the fast fish until all have come: report either with this reservation."
		add(WarnAsOf, "", "Data count up to %s, and fish still on their way have no travel time yet: the observed days are those of the fast ones. Use the law's mean and median, which allow for this.",
			time.UnixMilli(r.Options.AsOf).UTC().Format("2006-01-02 15:04 UTC"))
	}
	for k := range h.River.Sites {
		if id, message := r.outage(k, name); id != "" {
			add(id, name(k), "%s", message)
		}
	}
	r.warnEarly(h, add)
	for i := range r.Stretches {
		s := &r.Stretches[i]
		about := name(s.From) + " to " + name(s.To)
		if s.Cohort != All {
			about += ", cohort " + h.Cohorts[s.Cohort]
		}
		if s.Cohort == All && s.NotTimed > 0 {
			add(WarnNotTimed, about, "%d fish detected at both ends of %s have no travel time: the release time is not known, or the detection below is not later than the one above. Check the clocks of the two sites.", s.NotTimed, about)
		}
		if s.Cohort == All && s.KmPerDay.Max > FastKmPerDay {
			add(WarnFast, about, "The fastest fish made %.0f km/day over %s; more than %d is faster than smolts swim (common practice). Check its records, and the clocks of the two sites.", s.KmPerDay.Max, about, FastKmPerDay)
		}
		if s.Law == nil || s.Law.Drift.Status == cjs.Absent {
			continue
		}
		if s.Law.Verdict != cjs.Converged {
			add(WarnNoFit, about, "The first-passage law over %s did not converge; do not use its numbers.", about)
		} else if p := s.Law.Check.PHigh; !math.IsNaN(p) && p < 0.01 {
			add(WarnLaw, about, "The days over %s do not follow the first-passage law (chi-square %.1f in %d classes, probability below %s): fish of two speeds, delayed departure or travel at certain hours only are common reasons. %s", about, s.Law.Check.ChiSquare, s.Law.Check.Classes, below(p), instead)
		}
	}
}

// mostEarly bounds how many stretches a warning names.
const mostEarly = 8

// warnEarly names, in one warning, the stretches over which it is too early to say
// how fast fish are.
func (r *Result) warnEarly(h *history.Histories, add func(id, about, format string, args ...any)) {
	var named []string
	left := 0
	for i := range r.Stretches {
		s := &r.Stretches[i]
		if s.Law == nil || s.Law.Drift.Status != cjs.Absent {
			continue
		}
		if len(named) == mostEarly {
			left++
			continue
		}
		where := h.River.Sites[s.From].Name + " to " + h.River.Sites[s.To].Name
		if s.Cohort != All {
			where += ", cohort " + h.Cohorts[s.Cohort]
		}
		named = append(named, fmt.Sprintf("%s (%.3g)", where, s.Law.Drift.High))
	}
	if len(named) == 0 {
		return
	}
	about := strings.Join(named, "; ")
	if left > 0 {
		about += fmt.Sprintf("; and %d more", left)
	}
	add(WarnEarly, "as_of", "It is too early to estimate how fast the fish migrate, for among those detected up to as_of slow fish cannot be told from missing ones. Migration rates in km/day are at most: %s. Wait for more fish.", about)
}

// outage is the warning that a site which did not work all the time asks for: what
// allows for it, where more than one journey in a hundred is hidden, or that
// nothing does. "" for other sites.
func (r *Result) outage(k int, name func(int) string) (id, message string) {
	if !slices.ContainsFunc(r.Options.Working, func(w cjs.Working) bool { return w.Site == k }) {
		return "", ""
	}
	hidden, why := 0.0, ""
	for i := range r.Stretches {
		s := &r.Stretches[i]
		switch {
		case s.To != k || s.Cohort != All || why != "":
		case s.Law == nil:
			why = s.WhyNoLaw
		case s.Law.Drift.Status == cjs.Absent || s.Law.Verdict != cjs.Converged:
			why = "the law of travel has no estimate there"
		default:
			hidden = max(hidden, s.Law.Hidden)
		}
	}
	for i := range r.Arrivals {
		if a := &r.Arrivals[i]; a.Site == k && a.Cohort == All && why == "" {
			why = a.Why
		}
	}
	switch {
	case why != "":
		return WarnOutage, fmt.Sprintf("%s did not work all the time: fish that passed meanwhile are missing from its days, arrivals and dates, which can come out early or late, and not all of this can be allowed for: %s. Passed %% in unseen fit allows for them.", name(k), why)
	case hidden >= Hidden:
		return WarnHidden, fmt.Sprintf("%s did not work all the time: by the law of travel about %.0f %% of the journeys to it are hidden. The days observed, and the dates as seen, are of the other fish. Use the law's mean and median, and the corrected dates, which allow for this.", name(k), 100*hidden)
	}
	return "", ""
}

// hidden tells whether as_of hides more than one journey in a hundred, or may.
func (r *Result) hidden() bool {
	for i := range r.Stretches {
		s := &r.Stretches[i]
		if s.Cohort == All && r.Options.AsOf != 0 && (s.Law == nil || !(s.Law.Hidden < Hidden)) {
			return true
		}
	}
	return false
}

// below writes a small probability as a bound.
func below(p float64) string {
	if p < 0.001 {
		return "0.001"
	}
	return "0.01"
}
